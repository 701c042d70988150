// A run takes a calibration that fits, says which, and judges the same again; one that does not fit is not used, and that is said; a file
// that is none is refused before anything is powered.
#include <algorithm>
#include <fstream>

#include "daemon/engine/bench_calibration.hpp"
#include "daemon/engine/rejudge.hpp"
#include "daemon/store/calibration_file.hpp"
#include "tests/calibrate/calibrated.hpp"
#include "tests/e2e/whole_run.hpp"

namespace midstick::calibrate {
namespace {

namespace fs = std::filesystem;

struct Done {
  Result<engine::RunOutcome> outcome;
  std::vector<std::string> notices;
  nlohmann::json report() const { return nlohmann::json::parse(outcome->report_json); }
};

class RunWithCalibration : public testing::Test {
 protected:
  capture::Calibration fitting() {
    auto c = virtual_calibration();
    c.valid_days = 3650;
    return c;
  }
  fs::path write(const std::string& text) {
    const auto path = folder_ / "calibration.json";
    std::ofstream(path) << text;
    return path;
  }
  Done run(const fs::path& calibration, const std::string& out, const std::string& board = "") {
    static const std::atomic<bool> never{false};
    std::vector<std::string> notices;
    engine::RunRequest request;
    request.plan = e2e::source("tests/e2e/short.json");
    request.bench = "virtual:" + e2e::source("fixtures/mower/controller.json").string();
    request.out = folder_ / out;
    request.calibration = calibration;
    request.board = board;
    request.on_notice = [&](const std::string& line) { notices.push_back(line); };
    auto outcome = engine::run(request, never);
    return {std::move(outcome), notices};
  }
  e2e::ScratchFolder folder_;
};

TEST_F(RunWithCalibration, UsesOneThatFitsAndJudgesTheSameAgain) {
  const auto r = run(write(store::calibration_to_json(fitting())), "run");
  ASSERT_TRUE(r.outcome.ok()) << r.outcome.error().message;
  EXPECT_EQ(r.report()["calibration"]["used"], true);
  EXPECT_EQ(r.report()["calibration"]["board"], "virtual");
  const auto again = engine::rejudge(folder_ / "run", {}, {});
  ASSERT_TRUE(again.ok()) << again.error().message;
  const auto second = nlohmann::json::parse(again->report_json);
  EXPECT_EQ(second["checks"], r.report()["checks"]);
  EXPECT_EQ(second["calibration"], r.report()["calibration"]);
}

TEST_F(RunWithCalibration, MovesTheUncertaintyOfALatency) {
  const auto latency = [](const Done& r) { return r.report()["checks"][1]["uncertainty"].get<double>(); };
  const auto with = run(write(store::calibration_to_json(fitting())), "with"), without = run("", "without");
  ASSERT_TRUE(with.outcome.ok() && without.outcome.ok());
  EXPECT_EQ(without.report()["calibration"]["used"], false);
  EXPECT_LT(latency(with), latency(without)) << "the synchroniser's 4 ticks are no longer in it";
}

TEST_F(RunWithCalibration, DoesNotUseAnOldOneOrAForeignOneSilently) {
  auto old = fitting();
  old.date = "2019-03-01T10:00:00Z";
  old.valid_days = 365;
  auto firmware = fitting();
  firmware.firmware = "0.9";
  const std::tuple<const char*, capture::Calibration, std::string, const char*> cases[] = {
      {"old", old, "", "it was valid until 2020-02-29"},
      {"foreign", fitting(), "bench 2", "it is of board \"virtual\", and this is \"bench 2\""},
      {"firmware", firmware, "", "firmware 0.9"}};
  for (const auto& [name, calibration, board, why] : cases) {
    const auto r = run(write(store::calibration_to_json(calibration)), name, board);
    ASSERT_TRUE(r.outcome.ok()) << r.outcome.error().message;
    EXPECT_EQ(r.report()["calibration"]["used"], false) << name;
    EXPECT_NE(r.report()["calibration"]["warning"].get<std::string>().find(why), std::string::npos) << r.report()["calibration"];
    EXPECT_TRUE(std::ranges::any_of(r.notices, [&, text = std::string(why)](const std::string& n) {
      return n.starts_with("WARNING") && n.find(text) != std::string::npos;
    })) << name;
    std::ifstream page(folder_ / name / "report.html");
    const std::string html((std::istreambuf_iterator<char>(page)), {});
    EXPECT_NE(html.find("is not used"), std::string::npos);
  }
}

TEST_F(RunWithCalibration, RefusesAFileThatIsNone) {
  const auto r = run(write("{\"format\": \"midstick calibration 2\"}"), "run");
  ASSERT_FALSE(r.outcome.ok());
  EXPECT_EQ(r.outcome.error().kind, ErrorKind::bad_file);
  EXPECT_NE(r.outcome.error().message.find("/format: found \"midstick calibration 2\"; expected"), std::string::npos);
  EXPECT_FALSE(fs::exists(folder_ / "run"));
}

TEST(BenchCalibration, KeptForTheBoardIsFoundByItself) {
  EXPECT_EQ(engine::calibration_folder("a/b .."), fs::path("midstick-calibrations/a_b___"));
  EXPECT_EQ(engine::board_name("virtual:x.json", ""), "virtual");
  EXPECT_EQ(engine::board_name("usb:2341:0042:7563", ""), "7563") << "also while it is not plugged in";
  EXPECT_EQ(engine::board_name("serial:/dev/null", ""), "") << "no USB device, so no serial number";
  EXPECT_EQ(engine::board_name("serial:/dev/null", "bench 2"), "bench 2");
}

}  // namespace
}  // namespace midstick::calibrate
