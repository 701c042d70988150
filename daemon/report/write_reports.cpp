#include "daemon/report/write_reports.hpp"

#include "daemon/report/html.hpp"
#include "daemon/report/junit.hpp"
#include "daemon/report/report_json.hpp"
#include "daemon/report/vcd.hpp"
#include "daemon/store/files.hpp"

namespace midstick::report {

Status write_reports(const std::filesystem::path& folder, const Source& source) {
  const auto write = [&](const char* name, const std::string& text) { return store::replace_file(folder / name, text); };
  if (auto s = write("capture.vcd", capture_vcd(source.capture, source.plan.controller, source.plan.name, source.facts.started)); !s)
    return s;
  if (auto s = write("report.html", report_html(source)); !s) return s;
  if (auto s = write("junit.xml", junit_xml(source)); !s) return s;
  return write("report.json", report_json(source));
}

}  // namespace midstick::report
