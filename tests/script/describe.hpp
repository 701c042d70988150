// Every member of the values that readers make, as text, so that a test can see whether anything changed. For tests only.
#pragma once

#include <string>

#include "daemon/script/plan.hpp"

namespace midstick::script {

std::string described(const ControllerDescription& controller);
std::string described(const mixer::MixerSpec& spec);
std::string described(const StickScript& script);
/// Without spec, controller and scripts, which come from other files.
std::string described(const Plan& plan);

}  // namespace midstick::script
