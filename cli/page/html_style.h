/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the HTML page looks: a style sheet without '<' and '&', so that XML takes it too. */
#ifndef CLI_PAGE_HTML_STYLE_H
#define CLI_PAGE_HTML_STYLE_H

extern const char html_style[], html_style_paper[];

#endif
