// Writes the reports of the made-up mower run into a folder, to look at: report_sample FOLDER
#include <cstdio>

#include "daemon/report/progress.hpp"
#include "daemon/report/table.hpp"
#include "daemon/report/write_reports.hpp"
#include "tests/report/world.hpp"

int main(int argc, char** argv) {
  using namespace midstick;
  if (argc != 2) return std::fputs("usage: report_sample FOLDER\n", stderr), 64;
  const auto world = report::test::mower_world();
  for (const int width : {80, 40}) {
    std::puts(report::progress_line({"static-mix", 2, 5, 61'000, 100'000}, {width, false, true}).c_str());
    std::puts(report::result_table(world.result, {width, false, true}).c_str());
  }
  const auto written = report::write_reports(argv[1], world.source());
  if (!written) return std::fprintf(stderr, "%s\n", written.error().message.c_str()), 3;
  return 0;
}
