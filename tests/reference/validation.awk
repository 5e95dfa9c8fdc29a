# SPDX-License-Identifier: GPL-3.0-or-later
# Rows of tests (tests/unit/published.h), sorted by evidence and source, into three files:
# `text` for people, `table` as CSV, `page` as a manual page.  `day`: its date; `left`: what
# could not run here; `failed`: tests that failed, maybe before their rows.  Fails where a row
# did not pass, or has no source.
BEGIN {
	FS = "\t"
	WIDTH = 100
	heads[0] = "Published sources"
	tells[0] = "Values printed, certified or defined there, or formulas of it evaluated anew."
	heads[1] = "Other programs"
	tells[1] = "Values that programs computed which share no code with this one, most of them " \
		"once, the digits standing in the tests."
	heads[2] = "A simulated plant"
	tells[2] = "Not a published source, and not your machine: the simulated line that comes " \
		"with the program knows the true core of its sheets and the true heat in its water."
	heads[3] = "Common practice"
	tells[3] = "What the trade holds to be so; no source is known that could be named."
	heads[4] = "From memory"
	tells[4] = "Published, but written down from memory and not held against the print: a " \
		"digit may be wrong there, and the program agree with it all the same."
	n = split("What is below was written by the tests of this version as they ran: each value " \
		"from outside that they hold the program against, what the program made of it, " \
		"how far off that was, and how far off it might have been.  Where many values " \
		"of one kind were held, the row counts them and shows the one nearest to its " \
		"own tolerance.\n" \
		"What kind of evidence it is: that the formulas are those of the sources, and " \
		"that they are computed rightly.  Published sources, other programs, a simulated " \
		"plant, common practice and what was written down from memory stand apart, " \
		"since they are worth differently much.  Where a row says 'simulated', chance has a " \
		"part in it, and the tolerance is several standard errors.  Where it says " \
		"'bytes alike', it counts the bytes that agree.\n" \
		"What it is not: a trial on your machine.  Estimates of the temperature inside " \
		"a sheet are held against solutions in series, which assume properties that " \
		"do not vary, and against a simulated plant, whose sheet, pyrometers and water " \
		"are a model.  Of your sheet, its thickness, its properties and your " \
		"pyrometers nothing here says anything: for those there are 'evensoak " \
		"calibrate' and an instrumented sheet.  Nor is it a certificate, and nothing " \
		"in it makes the program fit for safety.", intro, "\n")
}

# Lines of at most `width`, the first after `lead`, the others after `rest`.
function wrapped(string, width, lead, rest,   words, count, i, line, all) {
	count = split(string, words, / +/)
	line = lead words[1]
	for (i = 2; i <= count; i++)
		if (length(line) + 1 + length(words[i]) > width) {
			all = all line "\n"
			line = rest words[i]
		} else
			line = line " " words[i]
	return all line
}
function quoted(string) {
	gsub(/"/, "\"\"", string)
	return (string ~ /[",]/) ? "\"" string "\"" : string
}
function roff(string) {
	gsub(/\\/, "\\e", string)
	gsub(/"/, "\\(dq", string)
	return "\\&" string
}
# Filled text of a manual page: every sentence begins a line.
function filled(string,   sentences, count, i, all) {
	count = split(string, sentences, /  +/)
	for (i = 1; i <= count; i++)
		all = all wrapped(sentences[i], 78, "", "") "\n"
	return all
}
function number(string) { return sprintf("%.8g", string + 0) }
function small(string) { return string + 0 == 0 ? "0" : sprintf("%.1e", string + 0) }
function apart(a, b) { return a + 0 > b + 0 ? a - b : b - a }

function begin(   i) {
	print "evensoak: what it was held against" > text
	for (i = 1; i <= n; i++)
		print "\n" wrapped(intro[i], WIDTH, "", "") > text
	print "evidence,source,what,values,expected,got,difference,tolerance,pass,test" > table
	print ".\\\" Made by `make validation` from the tests; not written by hand.\n" \
		".Dd " day "\n.Dt EVENSOAK-VALIDATION 7\n.Os\n.Sh NAME\n" \
		".Nm evensoak-validation\n.Nd what the program was held against\n" \
		".Sh DESCRIPTION" > page
	for (i = 1; i <= n; i++)
		printf("%s%s", (i > 1 ? ".Pp\n" : ""), filled(intro[i])) > page
}
function close_list() {
	if (source != "")
		print ".El" > page
}
function new_kind() {
	close_list()
	print "\n\n" toupper(heads[$1]) "\n\n" wrapped(tells[$1], WIDTH, "", "") > text
	printf ".Sh %s\n%s", toupper(heads[$1]), filled(tells[$1]) > page
	kind = $1
	source = ""
}
function new_source() {
	close_list()
	source = $2
	sources++
	print "\n" wrapped(source, WIDTH, "", "  ") > text
	printf "  %-38s %5s %14s %14s %8s %8s\n", "what", "of", "expected", "got", "off by",
		"at most" > text
	print ".Ss \"" roff(source) "\"" > page
	print ".Bl -tag -width Ds" > page
}
function add_row(   count, lines, i) {
	count = split(wrapped($4, 38, "", ""), lines, "\n")
	for (i = 1; i < count; i++)
		print "  " lines[i] > text
	printf "  %-38s %5d %14s %14s %8s %8s %s\n", lines[count], $5, number($6), number($7),
		small(apart($6, $7)), small($8), $9 == "yes" ? "pass" : "FAIL" > text
	printf "%s,%s,%s,%d,%s,%s,%.3g,%s,%s,%s\n", quoted(heads[$1]), quoted($2), quoted($4), $5,
		$6, $7, apart($6, $7), $8, $9, $3 > table
	print ".It \"" roff($4) "\"" > page
	if ($5 > 1)
		print $5 " values; of the one nearest to its tolerance:" > page
	print "expected " number($6) ", got " number($7) "," > page
	print "off by " small(apart($6, $7)) " of at most " small($8) ($9 == "yes" ? "." : ": FAILED.") > page
}

NR == 1 { begin() }
NF != 9 || $2 == "" || !($1 in heads) {
	print "validation: a row of " $3 " has no source: " $4
	bad++
	next
}
$1 != kind || NR == 1 { new_kind() }
$2 != source { new_source() }
{
	add_row()
	rows++
	values += $5
	if ($9 != "yes") {
		print "validation: " $3 ": " $4 ": expected " $6 ", got " $7 ", at most " $8 " off"
		bad++
	}
}

END {
	if (rows == 0) {
		print "validation: no row at all"
		exit 1
	}
	close_list()
	sum = sprintf("%d values in %d rows of %d sources; %s.", values, rows, sources,
		bad ? bad " failed" : failed ? "those written passed" : "all passed")
	broken = "Failed, maybe before all of its values were held: " failed "."
	missing = "Not held against anything here, for want of a program: " left "."
	print "\n\n" sum > text
	printf ".Sh SUMMARY\n%s", filled(sum) > page
	if (failed != "") {
		print wrapped(broken, WIDTH, "", "") > text
		printf ".Pp\n%s", filled(broken) > page
	}
	if (left != "") {
		print wrapped(missing, WIDTH, "", "") > text
		printf ".Pp\n%s", filled(missing) > page
	}
	print ".Sh SEE ALSO\n.Xr evensoak 1 ,\n.Xr evensoakd 8" > page
	print "validation: " sum "  See " text
	exit bad > 0
}
