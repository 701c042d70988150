// junit.xml: the verdicts as build servers read them. There is no standard; it is valid against both schemas in common use, the one for
// Ant's JUnit task (2011) and junit-4.xsd (2010).
//
// One test suite a run, one test case a check. A failed check is a failure; an inconclusive one is an error of type "inconclusive", since
// "skipped" is not valid in both and would read as good. For the same reason a check that was not run is no case: a property
// "not run: NAME" tells why. A run that is not a pass always shows a failure or an error, even without checks.
// Times are board time in seconds. Pure; well-formed XML 1.0 whatever the inputs hold; cannot fail.
#pragma once

#include <string>

#include "daemon/report/source.hpp"

namespace midstick::report {

std::string junit_xml(const Source& source);

}  // namespace midstick::report
