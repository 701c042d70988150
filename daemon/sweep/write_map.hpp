// The files that a map leaves: map.json (schema/map.schema.json), map.csv, map.h and map.html.
//
// Pure texts from a map. Every measured number comes with its unit and its U (95 %). The same map and facts give the same text.
#pragma once

#include <filesystem>
#include <string>

#include "daemon/sweep/map.hpp"
#include "daemon/sweep/receiver_map.hpp"

namespace midstick::sweep {

struct MapFacts {
  std::string program, when;  ///< who wrote it; ISO 8601, UTC
};

// Of a controller.
std::string map_json(const Map& map, const MapFacts& facts);
std::string map_csv(const Map& map);
std::string map_header(const Map& map, const MapFacts& facts);
std::string map_html(const Map& map, const MapFacts& facts);

// Of a receiver.
std::string map_json(const ReceiverMap& map, const MapFacts& facts);
std::string map_csv(const ReceiverMap& map);
std::string map_header(const ReceiverMap& map, const MapFacts& facts);
std::string map_html(const ReceiverMap& map, const MapFacts& facts);

/// All four into a folder that is there. Error{io} names the file.
template <class AnyMap>
Status write_map(const std::filesystem::path& folder, const AnyMap& map, const MapFacts& facts);

}  // namespace midstick::sweep
