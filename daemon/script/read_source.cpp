// Text or value -> schema checked, defaults filled. The one gate that every file passes.
#include "daemon/script/defaults.hpp"
#include "daemon/script/json_text.hpp"
#include "daemon/script/readers.hpp"
#include "daemon/script/schema_validator.hpp"

namespace midstick::script {
namespace {

using nlohmann::json;

std::string formats() {
  std::string out;
  for (const FileKind kind : kFileKinds) out += (out.empty() ? "" : ", ") + std::string(format(kind));
  return out;
}

Result<Checked> check(Source source, std::optional<FileKind> wanted) {
  const json& value = source.value;
  if (!value.is_object()) return source.error("", "found " + shown(value) + "; expected an object");
  const std::string expected = wanted ? shown(format(*wanted)) : "one of: " + formats();
  if (!value.contains("format")) return source.error("", "found no \"format\", which must be " + expected);
  const json& found = value["format"];
  const auto kind = found.is_string() ? kind_of_format(found.get_ref<const std::string&>()) : std::nullopt;
  if (!kind || (wanted && *kind != *wanted)) return source.error("/format", "found " + shown(found) + "; expected " + expected);
  if (const auto misfit = first_misfit(*kind, value)) return source.error(misfit->pointer, misfit->what);
  fill_defaults(*kind, source.value);
  return Checked{*kind, std::move(source)};
}

}  // namespace

Result<Checked> read_source(std::string_view text, const std::string& path, std::optional<FileKind> wanted) {
  auto source = parse_json(text, path);
  if (!source) return source.error();
  return check(source.take(), wanted);
}

Result<Checked> check_value(json value, const std::string& path, std::optional<FileKind> wanted) {
  return check({path, std::move(value), {}}, wanted);
}

}  // namespace midstick::script
