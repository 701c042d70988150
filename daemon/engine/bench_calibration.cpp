#include "daemon/engine/bench_calibration.hpp"

#include <algorithm>
#include <cctype>
#include <fstream>

#include "daemon/store/calibration_file.hpp"

namespace midstick::engine {
namespace {

namespace fs = std::filesystem;

/// The nearest "serial" file above the port's device in /sys: that of the USB device it belongs to.
std::string usb_serial(const std::string& device) {
  std::error_code error;
  const fs::path real = fs::canonical(device, error);
  if (error) return "";
  fs::path at = fs::canonical("/sys/class/tty" / real.filename() / "device", error);
  for (int up = 0; !error && up < 4; ++up, at = at.parent_path()) {
    std::ifstream in(at / "serial");
    if (std::string line; std::getline(in, line)) return line;
  }
  return "";
}

}  // namespace

std::string board_name(const std::string& address, const std::string& given) {
  constexpr std::string_view kSerial = "serial:";
  if (!given.empty()) return given;
  if (address.starts_with("usb:")) return address.substr(address.rfind(':') + 1);
  if (!address.starts_with(kSerial)) return "virtual";
  return usb_serial(address.substr(kSerial.size()));
}

fs::path calibration_folder(const std::string& board) {
  std::string folder = board;
  std::ranges::replace_if(
      folder, [](unsigned char c) { return !std::isalnum(c) && c != '-' && c != '_'; }, '_');
  return fs::path("midstick-calibrations") / folder;
}

fs::path kept_calibration(const std::string& board, const fs::path& folder) {
  if (board.empty()) return {};
  const fs::path file = calibration_folder(board) / "calibration.json";
  std::error_code ignored;
  if (!folder.empty() && fs::exists(folder / file, ignored)) return folder / file;
  return fs::exists(file, ignored) ? file : fs::path{};
}

Result<BenchCalibration> BenchCalibration::find(const fs::path& file, const std::string& board) {
  BenchCalibration found;
  found.board_ = board;
  const fs::path path = file.empty() ? kept_calibration(board) : file;
  if (path.empty()) return found;
  auto read = store::read_calibration(path);
  if (!read) return read.error();
  found.calibration_ = read.take();
  found.from_ = path.string();
  return found;
}

void BenchCalibration::check(const capture::Identity& identity, const std::string& now) {
  if (!calibration_) return;
  std::string why = capture::why_not(*calibration_, identity, board_, now);
  if (board_.empty()) why = "the port gives no serial number, so nobody knows which board this is; name it with --board";
  if (why.empty()) return;
  warning_ = "calibration " + from_ + " is not used: " + why;
  calibration_.reset();
}

void BenchCalibration::apply(capture::Capture& capture) const {
  capture.calibration_note = warning_;
  if (calibration_) capture::apply(*calibration_, capture);
}

}  // namespace midstick::engine
