// Usual ESCs, named after what they do. Figures: common practice, no source; none is a certain maker's product.
//
// A preset knows nothing of the ends: an ESC is calibrated to the controller that drives it. Pure; nullopt for a name that is no preset.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "daemon/esc/spec.hpp"

namespace midstick::esc {

struct Preset {
  const char* name;
  const char* about;  ///< one line for the formats page
};

/// All of them, the default first.
std::span<const Preset> presets();

/// The preset for an output with these ends, us.
std::optional<Spec> preset(std::string_view name, double low_us, double neutral_us, double high_us);

}  // namespace midstick::esc
