/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/circumstances.h"

#include <math.h>

#include "daemon/base/text.h"

struct circumstances
circumstances_untold(const struct settings *settings, int recipe)
{
	struct circumstances untold = {
	    .recipe = recipe, .thickness_m = NAN, .stack_c = NAN};
	const struct recipe_settings *known = settings_recipe(settings, recipe);

	if (known != NULL)
		text_copy(untold.material, sizeof(untold.material), known->material);
	return untold;
}
