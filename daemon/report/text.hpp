// Text from outside made safe to show: in XML and HTML, on a terminal, in plain ASCII.
//
// Names and summaries come from files other people wrote, so they may hold anything: control characters, broken UTF-8, markup.
// Input is taken as UTF-8; bytes that are not become U+FFFD. Pure functions, no threads; cannot fail.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace midstick::report {

/// Code point at `at`, which moves past it; U+FFFD (and one byte) where the text is not UTF-8 as of RFC 3629.
char32_t next_code_point(std::string_view text, std::size_t& at);

/// Append one code point as UTF-8.
void append_utf8(std::string& out, char32_t code);

/// Valid UTF-8 without control characters: each becomes its visible picture (U+2400 block); line feed and tab stay if `keep_lines`.
std::string visible(std::string_view text, bool keep_lines);

/// For XML 1.0 and HTML, between tags and inside quoted attributes. Line feeds and tabs survive both.
std::string escape(std::string_view text);

/// The judge writes microseconds as "us" and plus-minus as "+-"; people read the signs. Only "us" standing alone and "+-" before a number
/// are changed.
std::string with_micro_sign(std::string_view text);

/// Plain ASCII for a terminal without UTF-8: micro sign to u, plus-minus to +-, dashes and quotes to their ASCII forms, the rest to '?'.
std::string ascii(std::string_view text);

}  // namespace midstick::report
