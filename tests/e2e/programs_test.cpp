// The programs as a user starts them: exit codes, what they print, bad files, Ctrl-C, and the serial path over a pseudo-terminal.
#include <gtest/gtest.h>

#include <iterator>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/e2e/process.hpp"
#include "tests/e2e/scratch_folder.hpp"

namespace midstick::e2e {
namespace {

const std::string kMidstick = std::string(MIDSTICK_BIN) + "/midstick";
const std::string kVirtual = std::string(MIDSTICK_BIN) + "/midstick-virtual";
const std::string kMower = std::string(MIDSTICK_SOURCE) + "/fixtures/mower/";
const std::string kTests = std::string(MIDSTICK_SOURCE) + "/tests/e2e/";
constexpr int kPatience = 120'000;  // ms; only a hang gets near it

struct Answer {
  int code;
  std::string text;
};
Answer midstick(const std::vector<std::string>& arguments) {
  const ScratchFolder scratch;
  std::vector<std::string> argv{kMidstick};
  argv.insert(argv.end(), arguments.begin(), arguments.end());
  Process process(argv, scratch / "output");
  const int code = process.wait(kPatience);
  return {code, process.output()};
}

std::string write_file(const std::filesystem::path& path, const std::string& text) {
  std::ofstream(path) << text;
  return path.string();
}

TEST(CommandLine, WrongUsageIs64) {
  EXPECT_EQ(midstick({}).code, 64);
  EXPECT_EQ(midstick({"fly"}).code, 64);
  EXPECT_EQ(midstick({"run", kMower + "nightly.json"}).code, 64);
  EXPECT_EQ(midstick({"run", kMower + "nightly.json", "--bench", "telepathy:1"}).code, 64);
  EXPECT_EQ(midstick({"run", kMower + "nightly.json", "--bench", "virtual:x", "--seed", "-3"}).code, 64);
}

TEST(CommandLine, HelpAndVersionAreZeroAndHelpCarriesTheCaution) {
  const auto help = midstick({"--help"});
  EXPECT_EQ(help.code, 0);
  EXPECT_NE(help.text.find("CAUTION"), std::string::npos);
  EXPECT_EQ(midstick({"--version"}).code, 0);
  EXPECT_EQ(midstick({"run", "--help"}).code, 0);
}

TEST(CommandLine, ABadPlanIs65WithFilePointerAndLineAndNoRunFolder) {
  const ScratchFolder scratch;
  const auto plan =
      write_file(scratch / "plan.json", "{\n  \"format\": \"midstick plan 1\",\n  \"name\": \"x\",\n  \"mixer\": \"" + kMower +
                                            "mixer.json\",\n  \"controller\": \"" + kMower +
                                            "controller.json\",\n  \"checks\": [ { \"check\": \"neutral\", \"for_ms\": -5 } ]\n}\n");
  const auto answer = midstick({"run", plan, "--bench", "virtual:" + kMower + "controller.json", "--out", (scratch / "run").string()});
  EXPECT_EQ(answer.code, 65) << answer.text;
  EXPECT_NE(answer.text.find("plan.json"), std::string::npos) << answer.text;
  EXPECT_NE(answer.text.find("/checks/0/for_ms"), std::string::npos) << answer.text;
  EXPECT_NE(answer.text.find("6"), std::string::npos) << answer.text;
  EXPECT_FALSE(std::filesystem::exists(scratch / "run"));
}

TEST(CommandLine, AMissingFileIs65AndAMissingPortIs3) {
  EXPECT_EQ(midstick({"validate", "/nowhere/plan.json"}).code, 65);
  const auto answer = midstick({"bench", "serial:/dev/does-not-exist"});
  EXPECT_EQ(answer.code, 3) << answer.text;
  EXPECT_NE(answer.text.find("/dev/does-not-exist"), std::string::npos) << answer.text;
}

TEST(CommandLine, ValidateAcceptsEveryFileOfTheDemo) {
  const auto answer = midstick({"validate", kMower + "controller.json", kMower + "mixer.json", kMower + "nightly.json"});
  EXPECT_EQ(answer.code, 0) << answer.text;
}

TEST(CommandLine, ValidateTellsACauseOnceAndWhatItStandsInTheWayOf) {
  const ScratchFolder scratch;
  std::filesystem::copy(kMower, scratch / "my", std::filesystem::copy_options::recursive);
  const auto file = [&](const char* name) { return (scratch / "my" / name).string(); };
  const auto answer = midstick({"validate", file("controller.json"), file("mixer.json"), file("nightly.json"), file("soak.json")});
  EXPECT_EQ(answer.code, 65) << answer.text;
  const auto first = answer.text.find("which is no file");
  EXPECT_NE(first, std::string::npos) << answer.text;
  EXPECT_EQ(answer.text.find("which is no file", first + 1), std::string::npos) << answer.text;
  EXPECT_NE(answer.text.find("stands in the way of " + file("nightly.json") + ", " + file("soak.json")), std::string::npos) << answer.text;
}

/// The README's own steps for one's own controller: the folder it copies to, and that its files are sound there.
TEST(CommandLine, TheReadmesCopyOfTheMowerIsSound) {
  const ScratchFolder scratch;
  std::filesystem::create_directory_symlink(std::string(MIDSTICK_SOURCE) + "/build", scratch / "build");
  std::filesystem::create_directory_symlink(std::string(MIDSTICK_SOURCE) + "/daemon", scratch / "daemon");
  std::ifstream in(std::string(MIDSTICK_SOURCE) + "/README.md");
  const std::string readme{std::istreambuf_iterator<char>(in), {}};
  const std::string copy = "cp -r fixtures/mower ";
  const auto at = readme.find(copy);
  ASSERT_NE(at, std::string::npos) << "the README copies the mower's folder";
  const std::string to = readme.substr(at + copy.size(), readme.find('\n', at) - at - copy.size());
  std::filesystem::create_directories((scratch / to).parent_path());
  std::filesystem::copy(kMower, scratch / to, std::filesystem::copy_options::recursive);
  std::vector<std::string> arguments{"validate"};
  for (const auto& entry : std::filesystem::directory_iterator(scratch / to)) {
    if (entry.path().extension() != ".json") continue;
    arguments.push_back(entry.path().string());
    std::ifstream text(entry.path());
    const auto document = nlohmann::json::parse(text, nullptr, false, true);
    if (document.contains("$schema")) {
      EXPECT_TRUE(std::filesystem::exists(entry.path().parent_path() / document["$schema"].get<std::string>())) << entry.path();
    }
  }
  ASSERT_GT(arguments.size(), 4u);
  const auto answer = midstick(arguments);
  EXPECT_EQ(answer.code, 0) << answer.text;
  EXPECT_NE(readme.find("validate " + to + "/*.json"), std::string::npos) << "the README validates what it copied";
}

TEST(CommandLine, SaysWhatIsWrongInWordsThatFitTheMistake) {
  const auto folder = midstick({"validate", "."});
  EXPECT_EQ(folder.code, 65);
  EXPECT_NE(folder.text.find(".: found a folder; expected a file"), std::string::npos) << folder.text;
  const auto nothing = midstick({"run", kMower + "nightly.json", "--bench", "virtual:"});
  EXPECT_EQ(nothing.code, 64);
  EXPECT_NE(nothing.text.find("bench address \"virtual:\" is not understood"), std::string::npos) << nothing.text;
  const auto unknown = midstick({"frob"});
  EXPECT_EQ(unknown.code, 64);
  EXPECT_NE(unknown.text.find("there is no command \"frob\""), std::string::npos) << unknown.text;
  const auto file = midstick({"show", "1", "--file", "nope"});
  EXPECT_EQ(file.code, 64);
  EXPECT_NE(file.text.find("nope"), std::string::npos) << file.text;
  EXPECT_NE(file.text.find("junit.xml"), std::string::npos) << file.text;
}

TEST(CommandLine, HelpKeepsToEightyColumns) {
  for (const char* name : {"", "run", "random", "record", "calibrate", "sweep", "judge", "trend", "bench", "validate", "schema", "submit",
                           "jobs", "watch", "runs", "show", "stop", "release", "export"}) {
    const auto help = midstick(*name ? std::vector<std::string>{name, "--help"} : std::vector<std::string>{"--help"});
    EXPECT_EQ(help.code, 0) << name;
    std::istringstream lines(help.text);
    for (std::string line; std::getline(lines, line);) EXPECT_LE(line.size(), 80u) << name << ": " << line;
  }
}

TEST(CommandLine, EveryProgramTellsItsVersion) {
  const ScratchFolder scratch;
  for (const char* name : {"midstick", "midstickd", "midstick-virtual"}) {
    Process process({std::string(MIDSTICK_BIN) + "/" + name, "--version"}, scratch / "output");
    EXPECT_EQ(process.wait(kPatience), 0) << name << ": " << process.output();
    EXPECT_NE(process.output().find('.'), std::string::npos) << name;
  }
}

TEST(CommandLine, CalibrateWithoutASourceLeavesThePLinesAlone) {
  const ScratchFolder scratch;
  const auto with = midstick({"calibrate", "--bench", "virtual:loopback", "--out", (scratch / "with").string()});
  ASSERT_EQ(with.code, 0) << with.text;
  const auto without = midstick({"calibrate", "--bench", "virtual:loopback", "--no-source", "--out", (scratch / "without").string()});
  ASSERT_EQ(without.code, 0) << without.text;
  EXPECT_EQ(with.text.find("No pulse source"), std::string::npos) << with.text;
  EXPECT_NE(without.text.find("No pulse source"), std::string::npos) << without.text;
  EXPECT_EQ(midstick({"calibrate", "--help"}).text.find("{false}"), std::string::npos);
}

TEST(CommandLine, BenchTellsIdentityLimitsAndSelfTestAsJson) {
  const auto answer = midstick({"bench", "virtual:" + kMower + "controller.json", "--json"});
  ASSERT_EQ(answer.code, 0) << answer.text;
  const auto j = nlohmann::json::parse(answer.text);
  EXPECT_EQ(j.at("limits").at("stimulus_lines"), 6);
  EXPECT_EQ(j.at("fit"), true);
  EXPECT_LE(j.at("clock").at("uncertainty_ppm").get<double>(), 100);
}

TEST(CommandLine, RunPrintsATableWithinEightyColumnsAndKeepsTheReports) {
  const ScratchFolder scratch;
  const auto answer = midstick(
      {"run", kTests + "neutral-only.json", "--bench", "virtual:" + kMower + "controller.json", "--out", (scratch / "run").string()});
  ASSERT_EQ(answer.code, 0) << answer.text;
  EXPECT_NE(answer.text.find("neutral"), std::string::npos);
  for (const char* name : {"run.json", "plan.json", "capture.json", "report.json", "junit.xml", "report.html", "capture.vcd"})
    EXPECT_GT(std::filesystem::file_size(scratch / "run" / name), 100u) << name;
  EXPECT_EQ(midstick({"judge", (scratch / "run").string()}).code, 0);
  // The same folder again is refused, and nothing in it is touched.
  EXPECT_EQ(midstick({"run", kTests + "neutral-only.json", "--bench", "virtual:" + kMower + "controller.json", "--out",
                      (scratch / "run").string()})
                .code,
            64);
}

TEST(CommandLine, CtrlCEndsARunAsInconclusiveAndMarksItIncomplete) {
  const ScratchFolder scratch;
  Process run(
      {kMidstick, "run", kMower + "nightly.json", "--bench", "virtual:" + kMower + "controller.json", "--out", (scratch / "run").string()},
      scratch / "output");
  for (int i = 0; i < 3000 && !std::filesystem::exists(scratch / "run" / "plan.json"); ++i) ASSERT_EQ(run.wait(10), -1) << run.output();
  run.signal(SIGINT);
  EXPECT_EQ(run.wait(kPatience), 2) << run.output();
  std::ifstream in(scratch / "run" / "run.json");
  EXPECT_EQ(nlohmann::json::parse(in).at("state"), "incomplete");
}

TEST(CommandLine, WhatAsksForAHandIsNotRunOnTheVirtualBenchAndDoesNotCount) {
  const ScratchFolder scratch;
  const auto answer = midstick(
      {"run", kTests + "by-hand.json", "--bench", "virtual:" + kMower + "controller.json", "--out", (scratch / "run").string(), "--hand"});
  EXPECT_EQ(answer.code, 0) << answer.text;
  EXPECT_NE(answer.text.find("not run"), std::string::npos) << answer.text;
  std::ifstream in(scratch / "run" / "report.json");
  const auto check = nlohmann::json::parse(in).at("checks").at(1);
  EXPECT_EQ(check.at("verdict"), "not run");
  EXPECT_NE(check.at("not_run").get<std::string>().find("virtual bench"), std::string::npos) << check;
}

TEST(CommandLine, RandomPlaysItsScriptsAndSaysHowToPlayThemAgain) {
  const ScratchFolder scratch;
  const auto answer = midstick({"random", kMower + "nightly.json", "--bench", "virtual:" + kMower + "controller.json", "--for", "5",
                                "--runs", "2", "--seed", "11", "--out", (scratch / "random").string()});
  EXPECT_EQ(answer.code, 0) << answer.text;
  EXPECT_NE(answer.text.find("random scripts played: 2, the last with seed 12"), std::string::npos) << answer.text;
  EXPECT_NE(answer.text.find("again:  midstick run "), std::string::npos) << answer.text;
  EXPECT_EQ(midstick({"random", kMower + "nightly.json", "--bench", "virtual:" + kMower + "controller.json"}).code, 64) << "no --out";
}

TEST(CommandLine, RandomFindsItsFilesFromAFolderNamedByWayOfItsParent) {
  const ScratchFolder scratch;
  std::filesystem::create_directories(scratch / "here");
  std::filesystem::create_directories(scratch / "elsewhere" / "deep");
  std::filesystem::create_directory_symlink(scratch / "elsewhere" / "deep", scratch / "link");
  for (const char* out : {"here/../random", "link/random"}) {
    const auto answer = midstick({"random", kMower + "nightly.json", "--bench", "virtual:" + kMower + "controller.json", "--for", "2",
                                  "--seed", "11", "--out", (scratch / out).string()});
    EXPECT_EQ(answer.code, 0) << out << ": " << answer.text;
    EXPECT_EQ(midstick({"validate", (scratch / out / "random-1-plan.json").string()}).code, 0) << out;
  }
}

TEST(CommandLine, RandomThatCouldPlayNothingLeavesNothingInTheWayOfTheNextTry) {
  const ScratchFolder scratch;
  const auto out = scratch / "random";
  const auto answer =
      midstick({"random", kMower + "nightly.json", "--bench", "serial:/dev/does-not-exist", "--for", "2", "--out", out.string()});
  EXPECT_NE(answer.code, 0) << answer.text;
  EXPECT_FALSE(std::filesystem::exists(out)) << answer.text;
}

TEST(CommandLine, RecordWithNoReceiverWiredSaysSoAndWritesNothing) {
  const ScratchFolder scratch;
  const auto out = scratch / "receiver.json";
  const std::vector<std::string> arguments{"record",
                                           "--bench",
                                           "virtual:" + kMower + "controller.json",
                                           "--controller",
                                           kMower + "controller.json",
                                           "--mixer",
                                           kMower + "mixer.json",
                                           "--for",
                                           "20",
                                           "--out",
                                           out.string()};
  const auto answer = midstick(arguments);
  EXPECT_EQ(answer.code, 3) << answer.text;
  EXPECT_NE(answer.text.find("CAUTION"), std::string::npos) << answer.text;
  EXPECT_NE(answer.text.find("transmitter OFF"), std::string::npos) << answer.text;
  EXPECT_FALSE(std::filesystem::exists(out));
  write_file(out, "kept");
  EXPECT_EQ(midstick(arguments).code, 64) << "a file that is there is not written over";
  EXPECT_EQ(midstick({"record", "--bench", "virtual:" + kMower + "controller.json"}).code, 64);
}

/// The plan that asks for a hand, in real time over a pseudo-terminal.
Answer run_by_hand(const std::vector<std::string>& more) {
  const ScratchFolder scratch;
  const auto port = (scratch / "bench").string();
  Process bench({kVirtual, kMower + "controller.json", "--link", port}, scratch / "bench-output");
  EXPECT_TRUE(bench.says("/dev/pts/", 20'000)) << bench.output();
  std::vector<std::string> argv{kMidstick,        "run",   kTests + "by-hand.json",   "--bench",
                                "serial:" + port, "--out", (scratch / "run").string()};
  argv.insert(argv.end(), more.begin(), more.end());
  Process run(argv, scratch / "output");
  const int code = run.wait(kPatience);
  return {code, run.output()};
}

TEST(SerialPath, AHandIsToldWhatToDoAndAHandThatDoesNothingFails) {
  const auto answer = run_by_hand({"--hand"});
  EXPECT_EQ(answer.code, 1) << answer.text;
  for (const char* said :
       {"NOW by hand: open the receiver's ground wire", "hands off tracks, motors and bare wires", "NOW by hand: put it back"})
    EXPECT_NE(answer.text.find(said), std::string::npos) << said << "\n" << answer.text;
}

TEST(SerialPath, WithoutAHandNobodyIsAsked) {
  const auto answer = run_by_hand({});
  EXPECT_EQ(answer.code, 0) << answer.text;
  EXPECT_EQ(answer.text.find("NOW by hand"), std::string::npos) << answer.text;
  EXPECT_NE(answer.text.find("not run"), std::string::npos) << answer.text;
}

TEST(SerialPath, ARunOverAPseudoTerminalPasses) {
  const ScratchFolder scratch;
  const auto port = (scratch / "bench").string();
  Process bench({kVirtual, kMower + "controller.json", "--link", port}, scratch / "bench-output");
  ASSERT_TRUE(bench.says("/dev/pts/", 20'000)) << bench.output();
  Process run({kMidstick, "run", kTests + "neutral-only.json", "--bench", "serial:" + port, "--out", (scratch / "run").string()},
              scratch / "output");
  EXPECT_EQ(run.wait(kPatience), 0) << run.output() << bench.output();
  EXPECT_NE(run.output().find("CAUTION"), std::string::npos) << "a serial bench powers something real";
  bench.signal(SIGINT);
  EXPECT_EQ(bench.wait(10'000), 0) << bench.output();
}

}  // namespace
}  // namespace midstick::e2e
