// The hub by itself, WebSockets over real sockets, times by the injected clock, and the clean stop.
#include <gtest/gtest.h>

#include <boost/asio/write.hpp>
#include <boost/beast/core/buffers_to_string.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/websocket.hpp>

#include "tests/http/scene.hpp"

namespace midstick::http::tests {
namespace {

namespace asio = boost::asio;
namespace websocket = boost::beast::websocket;
using namespace std::chrono_literals;
using boost::system::error_code;

/// A WebSocket client in the scene's io_context; reads all the time once `read` was called.
struct Client {
  explicit Client(Scene& in, bool small = false) : scene(in), stream(in.io) {
    auto& socket = stream.next_layer();
    socket.open(asio::ip::tcp::v4());
    if (small) socket.set_option(asio::socket_base::receive_buffer_size(4096));
    socket.connect({asio::ip::make_address("127.0.0.1"), scene.port});
    stream.async_handshake("localhost:" + std::to_string(scene.port), "/api/1/live", [this](error_code error) {
      opened = !error;
      failed = static_cast<bool>(error);
    });
    scene.run_until([&] { return opened || failed; });
  }
  ~Client() {
    error_code ignored;
    stream.next_layer().close(ignored);
    if (reading) scene.run_until([&] { return closed; });
  }
  void read() {
    reading = true;
    stream.async_read(buffer, [this](error_code error, std::size_t) {
      if (error) {
        closed = true;
        return;
      }
      messages.push_back(boost::beast::buffers_to_string(buffer.data()));
      buffer.clear();
      read();
    });
  }
  Scene& scene;
  websocket::stream<asio::ip::tcp::socket> stream;
  boost::beast::flat_buffer buffer;
  std::vector<std::string> messages;
  bool opened{false}, failed{false}, reading{false}, closed{false};
};

TEST(HubQueue, NewestWinsInItsPlace) {
  MessageQueue queue;
  const auto push = [&](const char* key, const char* text) { return queue.push(std::make_shared<const Message>(Message{"", key, text})); };
  EXPECT_TRUE(push("live A", "1"));
  EXPECT_TRUE(push("changed jobs 7", "2"));
  EXPECT_FALSE(push("live A", "3"));
  EXPECT_TRUE(push("", "4"));
  EXPECT_TRUE(push("", "5"));
  EXPECT_EQ(queue.pop()->text, "3");
  EXPECT_TRUE(push("live A", "6"));
  EXPECT_FALSE(push("changed jobs 7", "7"));
  for (const char* text : {"7", "4", "5", "6"}) EXPECT_EQ(queue.pop()->text, text);
  EXPECT_EQ(queue.pop(), nullptr);
}

TEST(HubRule, PublishingPostsOnceHoweverMuchWaits) {
  std::vector<std::function<void()>> posted;
  Hub hub({}, [&](std::function<void()> soon) { posted.push_back(std::move(soon)); });
  int woken = 0;
  const auto listener = hub.join([](std::string_view topic) { return topic == "A"; }, {[&] { ++woken; }, [] {}, [] {}}, Instant{});
  for (int i = 0; i < 10'000; ++i) hub.publish({"A", "live A", std::to_string(i)});
  hub.publish({"B", "live B", "other"});
  ASSERT_EQ(posted.size(), 1u) << "a publisher costs the server one errand, not one for each message";
  posted[0]();
  EXPECT_EQ(woken, 1);
  EXPECT_EQ(listener->next(Instant{})->text, "9999");
  EXPECT_EQ(listener->next(Instant{}), nullptr);
  EXPECT_EQ(hub.counters().coalesced, 9'999u);
}

TEST(HubRule, FullStalledAndSilentAreDroppedAndCounted) {
  std::vector<std::function<void()>> posted;
  HubOptions options;
  options.queue_bound = 10;
  Hub hub(options, [&](std::function<void()> soon) { posted.push_back(std::move(soon)); });
  const auto flush = [&] {
    for (auto& each : std::exchange(posted, {})) each();
  };
  int dropped = 0, pinged = 0;
  const auto join = [&] { return hub.join({}, {[] {}, [&] { ++dropped; }, [&] { ++pinged; }}, Instant{}); };
  const auto full = join();
  for (int i = 0; i < 11; ++i) hub.publish({"", "", "x"});
  flush();
  EXPECT_EQ(hub.counters().dropped_full, 1u);
  const auto stalled = join();
  hub.publish({"", "", "x"});
  flush();
  stalled->next(Instant{});
  hub.sweep(Instant{} + 9s);
  EXPECT_EQ(dropped, 1);
  hub.sweep(Instant{} + 10s);
  EXPECT_EQ(hub.counters().dropped_stalled, 1u);
  const auto silent = join();
  hub.sweep(Instant{} + 20s);
  EXPECT_EQ(pinged, 1);
  hub.sweep(Instant{} + 59s);
  silent->heard(Instant{} + 59s);
  hub.sweep(Instant{} + 118s);
  EXPECT_EQ(dropped, 2);
  hub.sweep(Instant{} + 119s);
  EXPECT_EQ(hub.counters().dropped_silent, 1u);
  EXPECT_EQ(hub.counters().listeners, 0u);
}

TEST(Live, GreetsAndTellsEveryChange) {
  Scene scene;
  Client client(scene);
  ASSERT_TRUE(client.opened);
  client.read();
  scene.server->hub().publish({"changed", "changed jobs 1", "one"});
  scene.run_until([&] { return client.messages.size() == 2; });
  EXPECT_EQ(client.messages, (std::vector<std::string>{"hello", "one"}));
}

TEST(Live, FiftyListenersOfWhomFiveNeverRead) {
  ServerOptions options;
  options.hub.queue_bound = 10'000;
  Scene scene(options);
  std::vector<std::unique_ptr<Client>> clients;
  for (int i = 0; i < 50; ++i) {
    clients.push_back(std::make_unique<Client>(scene, i < 5));
    ASSERT_TRUE(clients.back()->opened) << i;
    if (i >= 5) clients.back()->read();
  }
  const std::string ballast(2000, '.');
  constexpr int kChanges = 1000;
  for (int n = 0; n < kChanges; ++n) {
    scene.server->hub().publish({"changed", "changed runs " + std::to_string(n), std::to_string(n) + ballast});
    scene.server->hub().publish({"live", "live A", "live"});
  }
  const auto changes = [](const Client& client) {
    return std::ranges::count_if(client.messages, [](const auto& m) { return m.size() > 1000; });
  };
  scene.run_until([&] { return std::all_of(clients.begin() + 5, clients.end(), [&](const auto& c) { return changes(*c) == kChanges; }); });
  EXPECT_EQ(scene.server->hub().counters().listeners, 50u);
  scene.pass(10s);
  EXPECT_EQ(scene.server->hub().counters().dropped_stalled, 5u);
  EXPECT_EQ(scene.server->hub().counters().listeners, 45u);
  scene.server->hub().publish({"changed", "", "after"});
  scene.run_until(
      [&] { return std::all_of(clients.begin() + 5, clients.end(), [](const auto& c) { return c->messages.back() == "after"; }); });
  scene.run_until([&] { return scene.server->counters().connections == 45; });
}

TEST(Live, CleanStopSaysGoingAway) {
  Scene scene;
  Client client(scene);
  client.read();
  bool done = false;
  scene.server->stop([&] { done = true; });
  scene.run_until([&] { return done && client.closed; });
  EXPECT_EQ(client.stream.reason().code, websocket::close_code::going_away);
}

TEST(Time, SlowHeaderGets408AndIdleEnds) {
  Scene scene;
  auto slow = connect(scene.io, scene.port), idle = connect(scene.io, scene.port);
  asio::write(slow, asio::buffer(std::string("GET /api/1/health HTTP/1.1\r\nHost: loc")));
  scene.run_until([&] { return scene.server->counters().connections == 2; });
  for (int i = 0; i < 20; ++i) scene.io.poll();
  std::string got(1000, 0), nothing(10, 0);
  std::size_t size = 0;
  bool idle_ended = false;
  slow.async_read_some(asio::buffer(got), [&](error_code, std::size_t n) { size = n; });
  idle.async_read_some(asio::buffer(nothing), [&](error_code error, std::size_t) { idle_ended = error == asio::error::eof; });
  scene.pass(9s);
  EXPECT_EQ(size, 0u);
  scene.pass(1s);
  scene.run_until([&] { return size > 0; });
  EXPECT_TRUE(got.starts_with("HTTP/1.1 408")) << got;
  EXPECT_FALSE(idle_ended);
  scene.pass(50s);
  scene.run_until([&] { return idle_ended; });
}

TEST(Time, OneClientTooManyIsTurnedAway) {
  ServerOptions options;
  options.limits.connections = 1;
  Scene scene(options);
  auto first = connect(scene.io, scene.port);
  scene.run_until([&] { return scene.server->counters().connections == 1; });
  EXPECT_EQ(scene.ask(scene.get("/api/1/health")).status, 503);
  EXPECT_EQ(scene.server->counters().refused, 1u);
}

TEST(Stop, LetsAnAnswerInFlightEndButNotForever) {
  for (const bool answers : {true, false}) {
    Reply kept;
    Handlers handlers;
    handlers["health"] = [&](const Request&, Reply reply) { kept = std::move(reply); };
    Scene scene({}, handlers);
    auto client = connect(scene.io, scene.port);
    asio::write(client, asio::buffer(scene.get("/api/1/health")));
    scene.run_until([&] { return static_cast<bool>(kept); });
    std::string got(1000, 0);
    bool read = false, done = false;
    client.async_read_some(asio::buffer(got), [&](error_code, std::size_t) { read = true; });
    scene.server->stop([&] { done = true; });
    scene.pass(4s);
    EXPECT_FALSE(done);
    if (answers) kept(json_response({{"late", true}}));
    if (!answers) scene.pass(1s);
    scene.run_until([&] { return done && read; });
    EXPECT_EQ(got.starts_with("HTTP/1.1 200 OK"), answers);
    kept = {};
  }
}

}  // namespace
}  // namespace midstick::http::tests
