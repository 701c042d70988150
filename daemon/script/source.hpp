// One file as read: its values, and the line where each stands, so that every later complaint can name its place.
//
// Plain values, owned by whoever read the file. Places are JSON pointers (RFC 6901, "" the whole file); lines count from 1. A source
// that was not read from text (a document stored with a run) has no lines, and its complaints name the pointer alone.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/core/result.hpp"

namespace midstick::script {

/// Where every value of a text stands, as a tree in order of appearance. Memory is linear in the text, however long its keys.
class LineTable {
 public:
  /// Add a value under node `parent` (-1: the root); returns its node. `key` is the member name or the array index in decimal.
  int add(int parent, std::string key, int line);
  /// Line of `pointer`, or of its nearest ancestor that exists; 0 when the table is empty.
  int line_of(std::string_view pointer) const;

 private:
  struct Node {
    int parent, line;
    std::string key;
  };
  std::vector<Node> nodes_;
};

struct Source {
  std::string path;  ///< as the user gave it
  nlohmann::json value;
  LineTable lines;

  /// bad_file: "PATH:LINE: at POINTER: WHAT".
  Error error(std::string_view pointer, std::string_view what) const;
};

/// `pointer` + "/" + `key`, escaped.
std::string child(std::string_view pointer, std::string_view key);
std::string child(std::string_view pointer, std::size_t index);

/// A value for a message: JSON, at most about 60 characters.
std::string shown(const nlohmann::json& value);

}  // namespace midstick::script
