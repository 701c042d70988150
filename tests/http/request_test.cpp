// What the server makes of requests, over real sockets.
#include <gtest/gtest.h>

#include <boost/asio/read.hpp>
#include <boost/asio/write.hpp>
#include <fstream>

#include "tests/http/scene.hpp"

namespace midstick::http::tests {
namespace {

void expect_problem(const Answer& answer, int status) {
  EXPECT_EQ(answer.status, status) << answer.body;
  EXPECT_EQ(answer.headers.count("content-type") ? answer.headers.at("content-type") : "", "application/problem+json");
  EXPECT_EQ(answer.json().value("status", 0), status);
}

TEST(Request, ReachesItsHandlerWithItsParameters) {
  Scene scene;
  const auto answer = scene.ask(scene.get("/api/1/jobs?state=queued&limit=7"));
  EXPECT_EQ(answer.status, 200);
  EXPECT_EQ(answer.json()["operation"], "jobs");
  EXPECT_EQ(answer.json()["limit"], "7");
  EXPECT_EQ(scene.ask(scene.get("/api/1/jobs")).json()["limit"], "50") << "the contract's default";
  EXPECT_EQ(scene.ask(scene.get("/api/1/benches/B%C3%A4nk%201")).json()["bench"], "Bänk 1");
}

TEST(Request, WrongParametersAreNamed) {
  Scene scene;
  const auto answer = scene.ask(scene.get("/api/1/jobs?state=que&limit=1000&x=1&before=1&before=2"));
  expect_problem(answer, 400);
  ASSERT_EQ(answer.json()["errors"].size(), 4u) << answer.body;
  EXPECT_EQ(answer.json()["errors"][1]["pointer"], "limit");
  expect_problem(scene.ask(scene.get("/api/1/trend?controller=a&plan=b")), 400);
  expect_problem(scene.ask(scene.get("/api/1/runs/seven")), 404);
  expect_problem(scene.ask(scene.get("/api/1/runs/7/files/passwd")), 404);
}

TEST(Request, BodyIsHeldAgainstItsSchema) {
  Scene scene;
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/jobs", "", R"({"plan":"nightly"})")).status, 201);
  const auto wrong = scene.ask(scene.request("POST", "/api/1/jobs", "", R"({"plan":"nightly","labels":["a",5]})"));
  expect_problem(wrong, 400);
  EXPECT_EQ(wrong.json()["errors"][0]["pointer"], "/labels/1");
  for (const char* body :
       {"{", "[]", R"({"plan":1})", R"({"plan":"a","plan":"b"})", R"({"plan":"a","plam":"b"})", "{\"plan\":\"\xff\"}", "{} x"})
    expect_problem(scene.ask(scene.request("POST", "/api/1/jobs", "", body)), 400);
  expect_problem(scene.ask(scene.request("POST", "/api/1/jobs", "", std::string(5000, '[') + std::string(5000, ']'))), 400);
  expect_problem(scene.ask(scene.request("POST", "/api/1/jobs")), 400);
  expect_problem(scene.ask(scene.request("POST", "/api/1/jobs", "", "plan=a", "application/x-www-form-urlencoded")), 415);
  expect_problem(scene.ask(scene.request("POST", "/api/1/stop", "", "{}")), 400);
}

TEST(Request, TooLargeIsRefused) {
  Scene scene;
  expect_problem(scene.ask(scene.request("POST", "/api/1/jobs", "", "{\"plan\":\"" + std::string(70000, 'a') + "\"}")), 413);
  expect_problem(scene.ask(scene.request("POST", "/api/1/jobs", "Transfer-Encoding: chunked\r\nContent-Type: application/json\r\n") +
                           "11170\r\n" + std::string(70000, 'a') + "\r\n0\r\n\r\n"),
                 413);
  expect_problem(scene.ask(scene.get("/api/1/health", "X-Long: " + std::string(9000, 'a') + "\r\n")), 431);
  expect_problem(scene.ask(scene.get("/" + std::string(5000, 'a'))), 414);
}

TEST(Request, NoPathLeadsOut) {
  Scene scene;
  for (const char* path :
       {"/../etc/passwd", "/api/1/../../x", "/%2e%2e/x", "/api/1/runs/1/files/..%2f..%2fetc%2fpasswd", "/api/1/runs/1/files/%2e%2e",
        "/a%5cb", "/a\\b", "/a%00b", "/a%0ab", "/%", "/%4", "/%zz", "/%ff", "/api/1/jobs?state=%00", "/a#b"})
    expect_problem(scene.ask(scene.get(path)), 400);
  expect_problem(scene.ask(scene.get("/api/1/benches/%252e%252e/x")), 404);  // decoded once only
}

TEST(Request, MalformedEndsTheConnection) {
  Scene scene;
  for (const char* bytes :
       {"nonsense\r\n\r\n", "GET /\r\n\r\n", "GET / HTTP/1.1\r\nHost localhost\r\n\r\n",
        "POST /api/1/jobs HTTP/1.1\r\nHost: localhost\r\nContent-Length: x\r\n\r\n",
        "POST /api/1/jobs HTTP/1.1\r\nHost: localhost\r\nContent-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"}) {
    const auto answers = scene.raw(bytes, 2);
    ASSERT_EQ(answers.size(), 1u) << bytes;
    EXPECT_EQ(answers[0].status, 400) << bytes;
    EXPECT_EQ(answers[0].headers.at("connection"), "close");
  }
}

TEST(Request, HostMustBeOurs) {
  Scene scene;
  EXPECT_EQ(scene.ask("GET /api/1/health HTTP/1.1\r\nHost: evil.example\r\n\r\n").status, 421);
  EXPECT_EQ(scene.ask("GET /api/1/health HTTP/1.1\r\n\r\n").status, 400);
  EXPECT_EQ(scene.ask("GET /api/1/health HTTP/1.1\r\nHost: localhost\r\nHost: localhost\r\n\r\n").status, 400);
  EXPECT_EQ(scene.ask("GET /api/1/health HTTP/1.1\r\nHost: [::1]:80\r\n\r\n").status, 200);
}

TEST(Request, ForeignPagesMayChangeNothing) {
  Scene scene;
  const std::string own = "Origin: http://localhost:" + std::to_string(scene.port) + "\r\n";
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/stop", own)).status, 200);
  EXPECT_EQ(scene.ask(scene.request("POST", "/api/1/stop")).status, 200);
  for (const char* foreign :
       {"Origin: http://evil.example\r\n", "Origin: null\r\n", "Origin: http://localhost:1\r\n", "Sec-Fetch-Site: cross-site\r\n"})
    expect_problem(scene.ask(scene.request("POST", "/api/1/stop", foreign)), 403);
  const std::string upgrade =
      "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n";
  expect_problem(scene.ask(scene.get("/api/1/live", upgrade + "Origin: http://evil.example\r\n")), 403);
  expect_problem(scene.ask(scene.get("/api/1/live")), 400);
  expect_problem(scene.ask(scene.get("/api/1/health", upgrade)), 400);
}

TEST(Request, WrongMethodNamesTheRightOnes) {
  Scene scene;
  const auto answer = scene.ask(scene.request("DELETE", "/api/1/jobs"));
  expect_problem(answer, 405);
  EXPECT_EQ(answer.headers.at("allow"), "GET, HEAD, POST");
  expect_problem(scene.ask(scene.get("/nowhere")), 404);
}

TEST(Request, SeveralAtOnceAreAnsweredInOrder) {
  Scene scene;
  const auto answers =
      scene.raw(scene.get("/api/1/health") + scene.request("POST", "/api/1/jobs", "", R"({"plan":"a"})") + scene.get("/api/1/plans"), 3);
  ASSERT_EQ(answers.size(), 3u);
  EXPECT_EQ(answers[0].json()["operation"], "health");
  EXPECT_EQ(answers[1].json()["operation"], "submit");
  EXPECT_EQ(answers[2].json()["operation"], "plans");
}

TEST(Request, KnownAnswerIsNotSentAgain) {
  Scene scene;
  const auto first = scene.ask(scene.get("/api/1/health"));
  const std::string etag = first.headers.at("etag");
  const auto again = scene.ask(scene.get("/api/1/health", "If-None-Match: \"x\", W/" + etag + "\r\n"));
  EXPECT_EQ(again.status, 304);
  EXPECT_EQ(again.body, "");
  EXPECT_EQ(scene.ask(scene.get("/api/1/plans", "If-None-Match: " + etag + "\r\n")).status, 200);
  const auto head = scene.ask(scene.request("HEAD", "/api/1/health"));
  EXPECT_EQ(head.status, 200);
  EXPECT_EQ(head.headers.at("content-length"), std::to_string(first.body.size()));
  EXPECT_EQ(head.headers.at("etag"), etag);
}

TEST(Request, EveryAnswerCarriesTheSecurityHeaders) {
  Scene scene;
  for (const char* path : {"/api/1/health", "/nowhere"}) {
    const auto answer = scene.ask(scene.get(path));
    EXPECT_NE(answer.headers.at("content-security-policy").find("default-src 'self'"), std::string::npos);
    EXPECT_NE(answer.headers.at("content-security-policy").find("frame-ancestors 'none'"), std::string::npos);
    EXPECT_EQ(answer.headers.at("x-content-type-options"), "nosniff");
    EXPECT_EQ(answer.headers.at("cache-control"), "no-store");
  }
}

TEST(Request, AssetsAreServedWithTheirTypes) {
  const Asset assets[] = {{"/index.html", "text/html; charset=utf-8", "<h1>hello</h1>"}, {"/app.js", "text/javascript", "1"}};
  ServerOptions options;
  options.assets = assets;
  Scene scene(options);
  EXPECT_EQ(scene.ask(scene.get("/")).body, "<h1>hello</h1>");
  const auto script = scene.ask(scene.get("/app.js"));
  EXPECT_EQ(script.headers.at("content-type"), "text/javascript");
  EXPECT_EQ(scene.ask(scene.get("/app.js", "If-None-Match: " + script.headers.at("etag") + "\r\n")).status, 304);
  EXPECT_EQ(scene.ask(scene.request("POST", "/app.js")).status, 405);
}

TEST(Request, FilesAreStreamed) {
  const std::string path = ::testing::TempDir() + "/midstick_http_file.bin";
  const std::string bytes(3'000'000, 'z');
  std::ofstream(path, std::ios::binary) << bytes;
  Handlers handlers;
  handlers["file"] = at_once([&](const Request& request) {
    Response out;
    out.file = request.text("file") == "plan.json" ? path + ".gone" : path;
    out.type = "application/octet-stream";
    out.save_as = "cap\"ture\n.json";
    return out;
  });
  Scene scene({}, handlers);
  const auto answer = scene.ask(scene.get("/api/1/runs/1/files/capture.json"));
  EXPECT_EQ(answer.status, 200);
  EXPECT_TRUE(answer.body == bytes);
  EXPECT_EQ(answer.headers.at("content-disposition"), "attachment; filename=\"cap_ture_.json\"");
  EXPECT_EQ(scene.ask(scene.get("/api/1/runs/1/files/capture.json", "If-None-Match: " + answer.headers.at("etag") + "\r\n")).status, 304);
  EXPECT_EQ(scene.ask(scene.request("HEAD", "/api/1/runs/1/files/capture.json")).headers.at("content-length"), "3000000");
  expect_problem(scene.ask(scene.get("/api/1/runs/1/files/plan.json")), 404);
  std::remove(path.c_str());
}

/// What a handler lends to an answer is let go when the client has it or has gone, and not before: a handler can bound what is in memory.
TEST(Request, ALargeAnswersLeaseEndsWithIt) {
  const auto lease = std::make_shared<int>();
  const std::string bytes(7'500'000, 'z');  // more than the system takes off our hands (tcp_wmem: 4 MB at most)
  Handlers handlers;
  handlers["file"] = at_once([&](const Request&) {
    Response out;
    out.body = bytes, out.version = "the zs", out.lease = lease;
    return out;
  });
  Scene scene({}, handlers);
  const std::string wanted = scene.get("/api/1/runs/1/files/capture.json");
  const auto answer = scene.ask(wanted);
  EXPECT_TRUE(answer.body == bytes);
  EXPECT_EQ(lease.use_count(), 1);
  EXPECT_EQ(scene.ask(scene.get("/api/1/runs/1/files/capture.json", "If-None-Match: " + answer.headers.at("etag") + "\r\n")).status, 304);
  boost::asio::ip::tcp::socket slow(scene.io, boost::asio::ip::tcp::v4());
  slow.set_option(boost::asio::socket_base::receive_buffer_size(4096));
  slow.connect({boost::asio::ip::make_address("127.0.0.1"), scene.port});
  boost::asio::write(slow, boost::asio::buffer(wanted));
  char first;
  scene.run_until([&] { return slow.available() > 0; });
  boost::asio::read(slow, boost::asio::buffer(&first, 1));
  EXPECT_EQ(lease.use_count(), 2) << "it takes its time";
  slow.close();
  scene.run_until([&] { return lease.use_count() == 1; });
}

TEST(Request, HandlersThatFailAnswerAllTheSame) {
  Handlers handlers;
  handlers["health"] = [](const Request&, const Reply&) {};
  handlers["plans"] = [](const Request&, const Reply&) { throw std::runtime_error("secret"); };
  handlers["nights"] = at_once([](const Request&) { return problem(418, ""); });
  Scene scene({}, handlers);
  for (const char* path : {"/api/1/health", "/api/1/plans", "/api/1/nights"}) {
    const auto answer = scene.ask(scene.get(path));
    expect_problem(answer, 500);
    EXPECT_EQ(answer.body.find("secret"), std::string::npos);
  }
}

}  // namespace
}  // namespace midstick::http::tests
