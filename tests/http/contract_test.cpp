// The contract file held against the router, and the helper that later tests hold the service's answers with.
#include <gtest/gtest.h>

#include "tests/http/scene.hpp"

namespace midstick::http::tests {
namespace {

TEST(ContractFile, EveryOperationIsFoundByItsPathAndMethod) {
  const Contract agreed = contract();
  ASSERT_GT(agreed.operations().size(), 20u);
  const Router router = Router::make(agreed, stubs(agreed)).take();
  for (const Operation& operation : agreed.operations()) {
    auto segments = operation.segments;
    for (auto& segment : segments)
      if (segment.front() == '{') segment = "1";
    const auto match = router.match(operation.method, segments);
    ASSERT_NE(match.operation, nullptr) << operation.id;
    EXPECT_EQ(match.operation->id, operation.id);
    EXPECT_EQ(match.path_parameters.size(), operation.path_parameters.size());
  }
}

TEST(ContractFile, HandlersAndOperationsMustPairUp) {
  const Contract agreed = contract();
  Handlers handlers = stubs(agreed);
  auto node = handlers.extract("health");
  const auto missing = Router::make(agreed, handlers);
  ASSERT_FALSE(missing.ok());
  EXPECT_EQ(missing.error().message, "the contract's operations without a handler: health");
  handlers.insert(std::move(node));
  handlers["surplus"] = handlers["open_session"] = handlers["bench"];  // one unknown, one that the server itself answers
  EXPECT_EQ(Router::make(agreed, handlers).error().message, "handlers without an operation in the contract: open_session surplus");
}

TEST(ContractFile, AnswersAreHeldAgainstTheirSchema) {
  const Contract agreed = contract();
  const std::string good =
      R"({"items":[{"id":1,"state":"queued","plan":"p","controller":"c","build":"","bench":"","labels":[],"priority":0,
          "submitted":"2026-11-25T00:00:00.000Z","ended":null,"deadline":null,"begun":0,"tries":1,"run":null,"night":"","replay":false,"note":"",
          "waits_for":""}],"next":null})";
  EXPECT_EQ(agreed.contract_misfit("jobs", 200, "application/json; charset=utf-8", good), std::nullopt);
  std::string wrong = good;
  wrong.replace(wrong.find("\"run\":null"), 10, "\"run\":\"x\"");
  EXPECT_NE(agreed.contract_misfit("jobs", 200, "application/json", wrong).value_or("").find("/items/0/run"), std::string::npos);
  EXPECT_TRUE(agreed.contract_misfit("jobs", 204, "", ""));
  EXPECT_TRUE(agreed.contract_misfit("jobs", 200, "text/html", good));
  EXPECT_TRUE(agreed.contract_misfit("nothing", 200, "application/json", good));
  const Response refusal = problem(404, "no such job", {{"job", "unknown"}});
  EXPECT_EQ(agreed.contract_misfit("job", 404, refusal.type, refusal.body), std::nullopt);
  EXPECT_TRUE(agreed.contract_misfit("job", 404, refusal.type, "{}"));
}

TEST(ContractFile, NullableStandsBesideReferencesAndAlternativesToo) {
  const Contract agreed = contract();
  for (const char* id : {"7", "\"a\"", "null"})
    EXPECT_EQ(agreed.message_misfit("Changed", std::string(R"({"type":"changed","what":"jobs","id":)") + id + "}"), std::nullopt);
  EXPECT_TRUE(agreed.message_misfit("Changed", R"({"type":"changed","what":"jobs","id":[]})"));
  EXPECT_TRUE(agreed.message_misfit("Changed", R"({"type":"changed","what":"jobs","id":{}})"));
  const std::string trend =
      R"({"controller":"c","plan":"p","metric":"m","unit":"us","bench":"b","benches":["b"],"points":[],"centre":null,"low":1.5,"high":null,"drift":DRIFT,"detail":""})";
  const auto with = [&](const std::string& drift) {
    std::string text = trend;
    return text.replace(text.find("DRIFT"), 5, drift);
  };
  EXPECT_EQ(agreed.message_misfit("Trend", with("null")), std::nullopt);
  EXPECT_EQ(agreed.message_misfit(
                "Trend", with(R"({"controller":"c","plan":"p","bench":"b","metric":"m","unit":"","began":"1","size":2,"detail":""})")),
            std::nullopt);
  EXPECT_TRUE(agreed.message_misfit("Trend", with("{}")));
}

TEST(ContractFile, NonsenseIsRefusedWithItsPlace) {
  for (const char* text :
       {"", "{}", R"({"paths":{"/a":{"get":{}}}})", R"({"paths":{"/a":{"get":{"operationId":"a","x-scope":"all","responses":{}}}}})",
        R"({"paths":{"/{a}":{"get":{"operationId":"a","x-scope":"run","responses":{}}}}})"}) {
    const auto refused = Contract::read(text);
    ASSERT_FALSE(refused.ok()) << text;
    EXPECT_TRUE(refused.error().message.starts_with("OpenAPI contract, ")) << refused.error().message;
  }
}

}  // namespace
}  // namespace midstick::http::tests
