// Any bytes as a plan, or as the stored document of a run: refused with a reason, or read into a plan that is complete and can be stored
// and read again.
#include <cstdint>
#include <set>

#include "daemon/script/json_text.hpp"
#include "daemon/script/readers.hpp"
#include "tests/fuzz/fuzz_readers.hpp"

using namespace midstick;

namespace {

void must_be_complete(const script::Plan& plan) {
  std::set<std::string> names;
  for (const auto& check : plan.checks) {
    fuzz::must(names.insert(check.name).second, "check names are unique");
    fuzz::must(check.repeats >= 1 && check.params.is_object() && !check.params.empty(), "a check has repeats and parameters");
  }
  fuzz::must(!plan.checks.empty(), "a plan has checks");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto source = script::parse_json(fuzz::text(data, size), "f");
  if (!source) return fuzz::must_explain(source.error(), "f"), 0;
  if (source->value.is_object() && source->value.contains("plan")) {
    const auto plan = script::plan_from_document(source->value, "f");
    if (!plan) return fuzz::must_explain(plan.error(), "f"), 0;
    must_be_complete(*plan);
    const auto again = script::plan_from_document(plan->document, "f");
    fuzz::must(again.ok() && again->document == plan->document, "a stored plan reads again as itself");
    return 0;
  }
  const auto checked = script::check_value(source->value, "f", script::FileKind::plan);
  if (!checked) return fuzz::must_explain(checked.error(), "f"), 0;
  const auto plan = script::read_plan(checked->source);
  if (!plan) return fuzz::must_explain(plan.error(), "f"), 0;
  must_be_complete(*plan);
  return 0;
}
