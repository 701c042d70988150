// Tokens, sessions, rates, and where the server may listen.
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/write.hpp>
#include <filesystem>

#include "tests/http/scene.hpp"

namespace midstick::http::tests {
namespace {

using namespace std::chrono_literals;

struct Tokens {
  NewToken read = new_token("reader", Scope::read, std::nullopt).take(), run = new_token("runner", Scope::run, std::nullopt).take(),
           admin = new_token("boss", Scope::admin, WallTime(std::chrono::sys_days(std::chrono::year(2026) / 11 / 26))).take();
  ServerOptions options() const {
    ServerOptions out;
    out.tokens = {read.record, run.record, admin.record};
    return out;
  }
  static std::string bearer(const NewToken& token) { return "Authorization: Bearer " + token.token + "\r\n"; }
};

TEST(Access, WithoutTokensEverybodyHereIsAdmin) {
  Scene scene;
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/reload")).json()["who"], "local");
}

TEST(Access, ScopesAreKept) {
  Tokens tokens;
  Scene scene(tokens.options());
  const auto status = [&](const NewToken& token, const char* method, const char* path) {
    return scene.ask(scene.request(method, path, Tokens::bearer(token))).status;
  };
  EXPECT_EQ(status(tokens.read, "GET", "/api/1/health"), 200);
  EXPECT_EQ(status(tokens.read, "POST", "/api/1/stop"), 403);
  EXPECT_EQ(status(tokens.run, "POST", "/api/1/stop"), 200);
  EXPECT_EQ(status(tokens.run, "POST", "/api/1/reload"), 403);
  EXPECT_EQ(status(tokens.admin, "POST", "/api/1/reload"), 200);
  EXPECT_EQ(scene.ask(scene.get("/api/1/health", Tokens::bearer(tokens.run))).json()["who"], "runner");
}

TEST(Access, EveryOperationAsksForAToken) {
  Tokens tokens;
  Scene scene(tokens.options());
  const Contract agreed = contract();
  for (const Operation& operation : agreed.operations()) {
    std::string path = operation.path;
    for (std::size_t at; (at = path.find('{')) != std::string::npos;) path.replace(at, path.find('}') - at + 1, "1");
    const auto none = scene.ask(scene.request(operation.method, path));
    EXPECT_EQ(none.status, 401) << operation.id;
    EXPECT_EQ(none.headers.at("www-authenticate"), "Bearer");
    EXPECT_EQ(agreed.contract_misfit(operation.id, none.status, none.headers.at("content-type"), none.body), std::nullopt);
    EXPECT_EQ(scene.ask(scene.request(operation.method, path, "Authorization: Bearer wrong\r\n")).status, 401) << operation.id;
    EXPECT_EQ(scene.ask(scene.request(operation.method, path, "Authorization: Basic eDp5\r\n")).status, 401) << operation.id;
    if (operation.scope > Scope::read) {
      EXPECT_EQ(scene.ask(scene.request(operation.method, path, Tokens::bearer(tokens.read))).status, 403) << operation.id;
    }
    scene.pass(5s);
  }
}

TEST(Access, ExpiredTokensAreRefusedAsThat) {
  Tokens tokens;
  Scene scene(tokens.options());
  EXPECT_EQ(scene.ask(scene.get("/api/1/health", Tokens::bearer(tokens.admin))).status, 200);
  scene.wall += 24h;
  const auto late = scene.ask(scene.get("/api/1/health", Tokens::bearer(tokens.admin)));
  EXPECT_EQ(late.status, 401);
  EXPECT_EQ(late.json()["detail"], "the token has expired");
}

TEST(Access, APageOpensASessionWithItsToken) {
  Tokens tokens;
  Scene scene(tokens.options());
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/session")).status, 401);
  const auto opened = scene.ask(scene.request("POST", "/api/1/session", Tokens::bearer(tokens.run)));
  ASSERT_EQ(opened.status, 204);
  const std::string set = opened.headers.at("set-cookie");
  EXPECT_NE(set.find("HttpOnly; SameSite=Strict"), std::string::npos);
  EXPECT_EQ(set.find(tokens.run.token), std::string::npos) << "the cookie is never the token";
  const std::string cookie = "Cookie: a=b; " + set.substr(0, set.find(';')) + "\r\n";
  EXPECT_EQ(scene.ask(scene.get("/api/1/health", cookie)).json()["who"], "runner");
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/session", cookie)).status, 401) << "a session does not prolong itself";
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/stop", cookie + "Origin: http://evil.example\r\n")).status, 403);
  scene.wall += 13h;
  EXPECT_EQ(scene.ask(scene.get("/api/1/health", cookie)).status, 401);
  scene.wall -= 13h;
  EXPECT_EQ(scene.ask(scene.request("DELETE", "/api/1/session", cookie)).status, 204);
  EXPECT_EQ(scene.ask(scene.get("/api/1/health", cookie)).status, 401);
}

TEST(Access, SessionsEndWithTheirToken) {
  Tokens tokens;
  Scene scene(tokens.options());
  const std::string set = scene.ask(scene.request("POST", "/api/1/session", Tokens::bearer(tokens.run))).headers.at("set-cookie");
  ASSERT_TRUE(scene.server->replace_tokens({tokens.read.record}).ok());
  EXPECT_EQ(scene.ask(scene.get("/api/1/health", "Cookie: " + set.substr(0, set.find(';')) + "\r\n")).status, 401);
}

TEST(Access, TooManyRequestsWait) {
  ServerOptions options;
  options.limits.burst = 3;
  options.limits.requests_per_second = 0.5;
  Scene scene(options);
  for (int i = 0; i < 3; ++i) EXPECT_EQ(scene.ask(scene.get("/api/1/health")).status, 200);
  const auto refused = scene.ask(scene.get("/api/1/health"));
  EXPECT_EQ(refused.status, 429);
  EXPECT_EQ(refused.headers.at("retry-after"), "2");
  scene.pass(2s);
  EXPECT_EQ(scene.ask(scene.get("/api/1/health")).status, 200);
  EXPECT_EQ(scene.ask(scene.get("/api/1/health")).status, 429);
}

TEST(Access, BeyondLoopbackNeedsTokens) {
  boost::asio::io_context io;
  const auto start = [&](std::vector<TokenRecord> tokens) {
    Contract agreed = contract();
    Handlers handlers = stubs(agreed);
    ServerOptions options;
    options.tcp = {{"0.0.0.0", 0}};
    options.tokens = std::move(tokens);
    return Server::start(io, Router::make(std::move(agreed), std::move(handlers)).take(), options);
  };
  const auto refused = start({});
  ASSERT_FALSE(refused.ok());
  EXPECT_EQ(refused.error().kind, ErrorKind::usage);
  EXPECT_NE(refused.error().message.find("needs tokens"), std::string::npos);
  auto open = start({new_token("a", Scope::read, std::nullopt)->record});
  ASSERT_TRUE(open.ok());
  EXPECT_FALSE((*open)->replace_tokens({}).ok()) << "nor may a reload take them away";
}

TEST(Access, UnixSocketIsForTheGroupAndReplacedWhenStale) {
  const std::string path = ::testing::TempDir() + "/midstick_http.sock";
  std::filesystem::remove(path);
  {
    boost::asio::io_context io;  // a socket that a killed daemon left behind
    boost::asio::local::stream_protocol::acceptor stale(io, path);
  }
  ServerOptions options;
  options.unix_socket = path;
  {
    Scene scene(options);
    struct stat found {};
    ASSERT_EQ(::stat(path.c_str(), &found), 0);
    EXPECT_EQ(found.st_mode & 0777, 0660u);
    EXPECT_THROW(Scene{options}, std::runtime_error) << "one in use is left alone";
    boost::asio::local::stream_protocol::socket client(scene.io);
    client.connect(path);
    boost::asio::write(client, boost::asio::buffer(std::string("GET /api/1/health HTTP/1.1\r\nHost: anything\r\n\r\n")));
    std::string got(4096, 0);
    std::size_t size = 0;
    client.async_read_some(boost::asio::buffer(got), [&](auto, std::size_t n) { size = n; });
    scene.run_until([&] { return size > 0; });
    EXPECT_TRUE(got.starts_with("HTTP/1.1 200 OK"));
  }
  EXPECT_FALSE(std::filesystem::exists(path));
}

TEST(Tokens, ExpiryIsAnyTimeOfRfc3339) {
  const auto expires = [](const std::string& text) -> std::optional<WallTime> {
    const auto read = read_tokens(
        R"({"tokens":[{"name":"a","scope":"run","sha256":")" + std::string(64, 'a') + R"(","expires":")" + text + R"("}]})", "t");
    return read ? read.value()[0].expires : std::nullopt;
  };
  const WallTime noon = std::chrono::sys_days(std::chrono::year(2027) / 1 / 31) + 12h;
  for (const char* text : {"2027-01-31T12:00:00Z", "2027-01-31T12:00:00.000Z", "2027-01-31T14:00:00+02:00", "2027-01-31T06:30:00-05:30"})
    EXPECT_EQ(expires(text), noon) << text;
  for (const char* text : {"", "2027-01-31", "2027-01-31T12:00:00", "2027-1-31T12:00:00Z", "2027-02-29T12:00:00Z", "2027-01-31T25:00:00Z",
                           "2027-01-31T12:00:00Zx", "2027-01-31T12:00:00+0200", "2027-01-31 12:00:00Z"})
    EXPECT_EQ(expires(text), std::nullopt) << text;
}

TEST(Tokens, FileIsReadStrictly) {
  const NewToken token = new_token("ci", Scope::run, WallTime(std::chrono::sys_days(std::chrono::year(2027) / 1 / 31))).take();
  const auto file = [](const std::string& record) { return read_tokens("{\"tokens\":[" + record + "]}", "tokens.json"); };
  const auto good = file(token_record_json(token.record));
  ASSERT_TRUE(good.ok());
  EXPECT_EQ(good.value()[0].expires, token.record.expires);
  EXPECT_EQ(good.value()[0].sha256, sha256_hex(token.token));
  EXPECT_EQ(sha256_hex("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad") << "FIPS 180-2, example B.1";
  const std::string hash = token.record.sha256;
  for (const std::string& record :
       {R"({"name":"a","scope":"all","sha256":")" + hash + R"(","expires":null})",
        std::string(R"({"name":"a","scope":"run","sha256":"abc","expires":null})"),
        R"({"name":"a","scope":"run","sha256":")" + hash + R"("})",
        R"({"name":"a","scope":"run","sha256":")" + hash + R"(","expires":"2027-02-30T00:00:00Z"})",
        R"({"name":"a","scope":"run","sha256":")" + hash + R"(","expires":null,"token":"x"})", std::string("5")}) {
    const auto bad = file(record);
    ASSERT_FALSE(bad.ok()) << record;
    EXPECT_TRUE(bad.error().message.starts_with("tokens.json: /tokens/0: ")) << bad.error().message;
  }
}

}  // namespace
}  // namespace midstick::http::tests
