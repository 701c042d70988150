#include "daemon/service/config.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

namespace midstick::service {
namespace {

using nlohmann::json;
namespace fs = std::filesystem;

const fs::path kFile = fs::path(MIDSTICK_SOURCE) / "fixtures/mower/daemon.json";

json usual() {
  return {{"format", "midstick daemon 1"},
          {"name", "workshop"},
          {"benches", {{{"name", "desk"}, {"address", "virtual:controller.json"}, {"labels", {"mower"}}}}},
          {"controllers", {{{"name", "bank-mower"}}}},
          {"plans", {{{"name", "nightly"}, {"file", "nightly.json"}, {"controller", "bank-mower"}}}},
          {"nights", {{{"name", "nightly"}, {"plan", "nightly"}, {"at", "02:30"}, {"zone", "Europe/Berlin"}}}}};
}

Result<Config> read(const json& value) { return config_from_text(value.dump(1), kFile); }

std::string complaint(const json& value) {
  const auto config = read(value);
  return config ? "" : config.error().message;
}

TEST(DaemonConfig, PathsAreSeenFromItsFile) {
  const auto config = read(usual());
  ASSERT_TRUE(config.ok()) << config.error().message;
  EXPECT_EQ(config->plans[0].file, kFile.parent_path() / "nightly.json");
  EXPECT_EQ(config->benches[0].address, "virtual:" + (kFile.parent_path() / "controller.json").string());
  EXPECT_EQ(config->keep, kFile.parent_path() / "midstick-store");
  EXPECT_EQ(config->listen.socket, config->keep / "midstick.sock");
}

TEST(DaemonConfig, ListensOnLoopbackUnlessItSaysOtherwise) { EXPECT_EQ(read(usual())->listen.address, "127.0.0.1"); }

TEST(DaemonConfig, MistakesNameFilePlaceAndWhatWasExpected) {
  json c = usual();
  c["nights"][0]["plan"] = "weekly";
  EXPECT_EQ(complaint(c).substr(complaint(c).find("at /")), "at /nights/0/plan: found \"weekly\"; expected a name of plans: nightly");
  EXPECT_NE(complaint(c).find(kFile.string()), std::string::npos);
  c = usual();
  c["benches"].push_back(c["benches"][0]);
  EXPECT_NE(complaint(c).find("/benches/1/name"), std::string::npos) << complaint(c);
  c = usual();
  c["plans"][0]["file"] = "gone.json";
  EXPECT_NE(complaint(c).find("/plans/0/file"), std::string::npos) << complaint(c);
  c = usual();
  c["nights"][0]["zone"] = "Mars/Olympus";
  EXPECT_NE(complaint(c).find("/nights/0/zone"), std::string::npos) << complaint(c);
  c = usual();
  c["nights"][0]["at"] = "25:00";
  EXPECT_NE(complaint(c).find("/nights/0/at"), std::string::npos) << complaint(c);
  c = usual();
  c["benches"][0]["adress"] = "x";
  EXPECT_NE(complaint(c).find("adress"), std::string::npos) << complaint(c);
  c = usual();
  c["webhooks"] = {{{"url", "ftp://x"}}};
  EXPECT_NE(complaint(c).find("/webhooks/0/url"), std::string::npos) << complaint(c);
}

TEST(DaemonConfig, ABenchThatIsNotUsbSerialOrVirtualIsRefused) {
  json c = usual();
  c["benches"][0]["address"] = "/dev/ttyACM0";
  EXPECT_NE(complaint(c).find("/benches/0/address"), std::string::npos) << complaint(c);
}

TEST(DaemonConfig, OneBoardIsOneBench) {
  json c = usual();
  c["benches"] = {{{"name", "a"}, {"address", "usb:2341:0042:7"}}, {{"name", "b"}, {"address", "usb:2341:0042:7"}}};
  EXPECT_NE(complaint(c).find("/benches/1/address"), std::string::npos) << complaint(c);
}

TEST(DaemonConfig, TheDemosOwnFileIsRight) {
  const auto config = read_config(kFile);
  ASSERT_TRUE(config.ok()) << config.error().message;
  EXPECT_EQ(config->plans[0].name, "nightly");
}

}  // namespace
}  // namespace midstick::service
