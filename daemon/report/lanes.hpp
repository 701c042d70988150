// The lanes of a picture: states over its x axis, drawn as rows of labelled blocks under the plot, and told in words.
//
// A block too narrow for its name shows the name's beginning or nothing; the words below the drawing name every state. Pure; anything not
// finite is left out.
#pragma once

#include <string>
#include <string_view>

#include "daemon/judge/check.hpp"
#include "daemon/report/axis.hpp"

namespace midstick::report {

/// Height that the lanes take under a plot, user units; 0 without lanes.
double lanes_height(const judge::Picture& picture);

/// Rows from `top` on, between `left` and `right`. `id` as of the plot, whose hatching marks what fails.
std::string lanes_svg(const judge::Picture& picture, std::string_view id, const Scale& x, double left, double right, double top);

/// " left ESC: waiting from 0 to 60, ..." for the drawing's description; `step` is the x axis's.
std::string lanes_description(const judge::Picture& picture, double step);

/// The same as paragraphs under the plot; empty without lanes.
std::string lanes_html(const judge::Picture& picture);

}  // namespace midstick::report
