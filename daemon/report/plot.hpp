// A judge's picture as an SVG plot with axes, bands and series, and its legend as HTML.
//
// Colours come from the page's style sheet by class, so that one drawing serves light, dark and print; series differ by shape or
// dashes as well. Long series are thinned to `detail` columns without losing outliers. Pure; anything not finite is left out.
#pragma once

#include <string>
#include <string_view>

#include "daemon/judge/check.hpp"

namespace midstick::report {

/// `id`: unique in the page. `detail`: columns a series is thinned to, 40 or more.
std::string plot_svg(const judge::Picture& picture, std::string_view id, int detail);

/// List of the series with samples of their marks; empty when there is none.
std::string plot_legend(const judge::Picture& picture);

}  // namespace midstick::report
