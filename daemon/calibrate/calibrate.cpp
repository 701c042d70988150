#include "daemon/calibrate/calibrate.hpp"

#include "daemon/calibrate/rounds.hpp"
#include "daemon/engine/bench_calibration.hpp"
#include "daemon/engine/session.hpp"
#include "daemon/engine/when_where.hpp"
#include "daemon/store/calibration_file.hpp"
#include "daemon/store/files.hpp"

namespace midstick::calibrate {
namespace {

namespace fs = std::filesystem;

Result<Rounds> rounds_on(engine::OpenBench& bench, engine::Session& session, const CalibrateRequest& request) {
  if (bench.loopback) {
    VirtualJumpers jumpers(*bench.loopback, request.conditions.seed, request.has_source);
    return play_rounds(session, jumpers);
  }
  if (!request.ask) return Error{ErrorKind::usage, "a calibration on a real bench needs somebody to move the jumpers"};
  HandJumpers jumpers(request.ask, request.has_source);
  return play_rounds(session, jumpers);
}

Status write(const fs::path& folder, const Certificate& certificate) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) return Error{ErrorKind::io, folder.string() + ": cannot be created: " + error.message()};
  if (auto s = store::replace_file(folder / "certificate.html", certificate_html(certificate)); !s) return s;
  if (auto s = store::replace_file(folder / "certificate.json", certificate_json(certificate)); !s) return s;
  return store::replace_file(folder / "calibration.json", store::calibration_to_json(certificate.study.calibration));
}

}  // namespace

Result<CalibrateOutcome> calibrate(const CalibrateRequest& request, const std::atomic<bool>& stop) {
  const std::string board = engine::board_name(request.bench, request.board);
  if (board.empty())
    return Error{ErrorKind::usage, request.bench + ": the port gives no serial number; expected a name for the board with --board"};
  auto bench = engine::open_bench(request.bench, request.conditions);
  if (!bench) return bench.error();
  if (bench->controller)
    return Error{ErrorKind::usage, request.bench + ": has a controller on it; expected virtual:loopback or serial:..."};
  engine::Session session(*bench->transport, stop);
  if (auto s = session.open(); !s) return s.error();
  const auto rounds = rounds_on(bench.value(), session, request);
  if (!rounds) return rounds.error();
  auto found = study(rounds.value(), session.link().hello());
  if (!found) return found.error();
  auto& c = found->calibration;
  c.board = board;
  c.date = engine::utc_now();
  c.valid_days = request.valid_days;
  c.supply_mv = request.supply_mv;
  CalibrateOutcome outcome{{found.take(), session.identity(), "midstick " MIDSTICK_VERSION, engine::host_name()},
                           request.out.empty() ? engine::calibration_folder(board) : request.out};
  if (auto s = write(outcome.folder, outcome.certificate); !s) return s.error();
  return outcome;
}

}  // namespace midstick::calibrate
