// One move of a stick script file into a Move: percent to us, sweep, grid, list, step and random into points.
//
// Keeps the sticks' position from move to move, since an input that a move does not name stays where it was. The first mistake is
// kept in error() and everything after it is meaningless. One reader a script; no threads.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/script/load.hpp"
#include "daemon/script/source.hpp"

namespace midstick::script {

class MoveReader {
 public:
  using Sticks = std::map<std::string, double>;

  MoveReader(const Source& source, const StickSetting& setting);

  /// The move at "/moves/INDEX"; a receiver's behaviour is several.
  std::vector<Move> read(std::size_t index);
  const std::optional<Error>& error() const { return error_; }

 private:
  using Json = nlohmann::json;

  Move read_one(const Json& file, const std::string& pointer, std::size_t index);
  double width(const std::string& input, double value, const std::string& pointer);
  double amplitude(const std::string& input, double value) const;
  Sticks sticks(const Json& named, const std::string& pointer, const Sticks& base);
  void read_points(const Json& file, const std::string& pointer, std::size_t index, Move& move);
  void step(const Json& file, const std::string& pointer, Move& move);
  void sweep(const Json& file, const std::string& pointer, Move& move);
  void grid(const Json& file, const std::string& pointer, Move& move);
  void list(const Json& file, const std::string& pointer, Move& move);
  void random(const Json& file, const std::string& pointer, std::size_t index, Move& move);
  void read_faults(const Json& file, const std::string& pointer, Move& move);
  void fail(const std::string& pointer, const std::string& what);

  const Source& source_;
  const StickSetting& setting_;
  bool percent_;
  std::uint64_t seed_;
  std::size_t points_{0};  ///< of all moves so far
  Sticks at_;
  std::optional<Error> error_;
};

}  // namespace midstick::script
