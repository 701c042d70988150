// The certificate of a calibration: which board, under which conditions, what was found, and how sure that is. For people and for programs.
//
// One HTML page that needs nothing beside it (light and dark, phone width), and the same as JSON, format "midstick certificate 1". It says
// what it is not: no accredited laboratory stands behind it, and the time it rests on is the host's. Pure; cannot fail.
#pragma once

#include <string>

#include "daemon/calibrate/study.hpp"
#include "daemon/capture/capture.hpp"

namespace midstick::calibrate {

struct Certificate {
  Study study;
  capture::Identity identity;
  std::string program;  ///< "midstick 0.1.0"
  std::string host;
};

std::string certificate_json(const Certificate& certificate);
std::string certificate_html(const Certificate& certificate);

}  // namespace midstick::calibrate
