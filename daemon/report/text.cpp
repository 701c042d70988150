#include "daemon/report/text.hpp"

#include <array>
#include <cctype>
#include <cstdint>
#include <utility>

namespace midstick::report {
namespace {

constexpr char32_t kReplacement = 0xFFFD;

constexpr std::array<std::pair<char32_t, const char*>, 16> kAscii{{{0xB5, "u"},
                                                                   {0x3BC, "u"},
                                                                   {0xB1, "+-"},
                                                                   {0xB0, " deg"},
                                                                   {0xD7, "x"},
                                                                   {0x2026, "..."},
                                                                   {0x2013, "-"},
                                                                   {0x2014, "-"},
                                                                   {0x2212, "-"},
                                                                   {0x2018, "'"},
                                                                   {0x2019, "'"},
                                                                   {0x201C, "\""},
                                                                   {0x201D, "\""},
                                                                   {0x2264, "<="},
                                                                   {0x2265, ">="},
                                                                   {0x2192, "->"}}};

/// Length in bytes that a first byte promises, and the bits it carries; 0 for a byte that starts nothing.
std::pair<int, char32_t> lead(unsigned char c) {
  if (c < 0x80) return {1, c};
  if (c >= 0xC2 && c <= 0xDF) return {2, c & 0x1FU};
  if (c >= 0xE0 && c <= 0xEF) return {3, c & 0x0FU};
  if (c >= 0xF0 && c <= 0xF4) return {4, c & 0x07U};
  return {0, 0};
}

bool is_control(char32_t c) { return c < 0x20 || (c >= 0x7F && c <= 0x9F); }

char32_t picture_of(char32_t control) {
  if (control < 0x20) return 0x2400 + control;
  return control == 0x7F ? 0x2421 : kReplacement;
}

}  // namespace

char32_t next_code_point(std::string_view text, std::size_t& at) {
  const auto [length, bits] = lead(static_cast<unsigned char>(text[at]));
  const auto start = at++;
  if (length == 0 || start + static_cast<std::size_t>(length) > text.size()) return kReplacement;
  char32_t code = bits;
  for (int i = 1; i < length; ++i) {
    const auto c = static_cast<unsigned char>(text[start + static_cast<std::size_t>(i)]);
    if ((c & 0xC0U) != 0x80U) return kReplacement;
    code = (code << 6U) | (c & 0x3FU);
  }
  // Overlong forms, surrogates and non-characters would make the XML ill-formed.
  const bool overlong = (length == 3 && code < 0x800) || (length == 4 && code < 0x10000);
  if (overlong || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF)) return kReplacement;
  at = start + static_cast<std::size_t>(length);
  return (code & 0xFFFEU) == 0xFFFEU ? kReplacement : code;
}

void append_utf8(std::string& out, char32_t code) {
  const auto byte = [&](char32_t b) { out += static_cast<char>(static_cast<unsigned char>(b)); };
  if (code < 0x80) {
    byte(code);
  } else if (code < 0x800) {
    byte(0xC0U | (code >> 6U));
    byte(0x80U | (code & 0x3FU));
  } else if (code < 0x10000) {
    byte(0xE0U | (code >> 12U));
    byte(0x80U | ((code >> 6U) & 0x3FU));
    byte(0x80U | (code & 0x3FU));
  } else {
    byte(0xF0U | (code >> 18U));
    byte(0x80U | ((code >> 12U) & 0x3FU));
    byte(0x80U | ((code >> 6U) & 0x3FU));
    byte(0x80U | (code & 0x3FU));
  }
}

std::string visible(std::string_view text, bool keep_lines) {
  std::string out;
  out.reserve(text.size());
  for (std::size_t at = 0; at < text.size();) {
    const auto code = next_code_point(text, at);
    if (!is_control(code) || (keep_lines && (code == '\n' || code == '\t'))) {
      append_utf8(out, code);
    } else if (code == '\n' || code == '\t' || code == '\r') {
      out += ' ';
    } else {
      append_utf8(out, picture_of(code));
    }
  }
  return out;
}

std::string escape(std::string_view text) {
  std::string out;
  out.reserve(text.size() + text.size() / 8);
  for (const char c : visible(text, true)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      case '\n':
        out += "&#10;";
        break;
      case '\t':
        out += "&#9;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

std::string with_micro_sign(std::string_view text) {
  const auto in_word = [&](std::size_t at) {
    return at < text.size() && (std::isalnum(static_cast<unsigned char>(text[at])) != 0 || text[at] == '_');
  };
  std::string out;
  for (std::size_t at = 0; at < text.size(); ++at) {
    const bool unit = text.substr(at, 2) == "us" && (at == 0 || !in_word(at - 1)) && !in_word(at + 2);
    const auto digit = at + 2 < text.size() && text[at + 2] == ' ' ? at + 3 : at + 2;
    const bool both = text.substr(at, 2) == "+-" && digit < text.size() && std::isdigit(static_cast<unsigned char>(text[digit])) != 0;
    out += unit ? std::string("µ") : both ? std::string("±") : std::string(1, text[at]);
    at += both;
  }
  return out;
}

std::string ascii(std::string_view text) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const auto code = next_code_point(text, at);
    if (code < 0x80) {
      out += static_cast<char>(code);
      continue;
    }
    const char* plain = "?";
    for (const auto& [from, to] : kAscii)
      if (from == code) plain = to;
    out += plain;
  }
  return out;
}

}  // namespace midstick::report
