// Which calibration a run may use: the file named, or the one kept for the board below the working folder, if it fits.
//
// A file that is no calibration is refused (Error{bad_file}); one that does not fit the board, its firmware or the day is not used, and the
// reason is given. Reads files and the system's list of USB devices; single-threaded.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "daemon/capture/calibration.hpp"
#include "daemon/capture/capture.hpp"
#include "daemon/core/result.hpp"

namespace midstick::engine {

/// Name of the board behind a bench address: `given` if not empty; "virtual" for a virtual bench; the serial number that "usb:V:P:SERIAL"
/// asks for; else that of the USB device behind the port; empty when it has none (many cheap boards), then a person must give a name.
std::string board_name(const std::string& address, const std::string& given);

/// midstick-calibrations/NAME: where `calibrate` puts its files and `run` looks for them. A name is made fit for a folder.
std::filesystem::path calibration_folder(const std::string& board);

/// The file kept for the board: below `folder`, where one is given and has it, else below the working folder; empty when there is none.
std::filesystem::path kept_calibration(const std::string& board, const std::filesystem::path& folder = {});

class BenchCalibration {
 public:
  /// `file` empty: the board's own folder, if there is one. Call before anything is powered.
  static Result<BenchCalibration> find(const std::filesystem::path& file, const std::string& board);

  /// After the greeting: drop it when it does not fit. `now`: UTC, ISO 8601.
  void check(const capture::Identity& identity, const std::string& now);
  /// Correct the capture, or note in it why not.
  void apply(capture::Capture& capture) const;
  /// Why it is not used; empty when it is, or when there is none.
  const std::string& warning() const { return warning_; }

 private:
  std::optional<capture::Calibration> calibration_;
  std::string from_, board_, warning_;
};

}  // namespace midstick::engine
