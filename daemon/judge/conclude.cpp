#include "daemon/judge/conclude.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "daemon/judge/text.hpp"

namespace midstick::judge {
namespace {

std::string capital(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string sentence(const Measure& m, const Findings& f, double ratio) {
  switch (m.verdict) {
    case Verdict::pass:
      return f.when_passed;
    case Verdict::fail:
      return capital(m.name) + ": " + measured_against_limits(m) + "." + (f.when_failed.empty() ? "" : " " + f.when_failed);
    case Verdict::inconclusive:
      break;
  }
  if (!m.note.empty() && m.samples == 0) return "No verdict: " + m.name + " could not be measured (" + m.note + ").";
  if (m.note.find("needed") != std::string::npos) return "No verdict: too little data for " + m.name + " (" + m.note + ").";
  if (m.withheld && !m.note.empty()) return "No verdict: " + m.name + ": " + m.note + ".";  // not for the number's sake
  if (!std::isfinite(m.uncertainty)) return "No verdict: " + m.name + " could not be measured well enough.";
  return "No verdict: " + m.name + " is " + measured_against_limits(m) + ", and the " + (ratio == 1 ? "uncertainty" : "guard band") +
         " of " + num(ratio * m.uncertainty, 2) + " " + m.unit + " reaches over the limit.";
}

const char* thin(const PulseTrain& train, std::int64_t needed) {
  if (train.all().empty()) return "no pulses";
  return static_cast<std::int64_t>(train.all().size()) < needed ? "too few pulses" : nullptr;
}

}  // namespace

std::string measured_against_limits(const Measure& m) {
  if (m.unit == "count" && m.limit_high == 0.0) return num(m.measured, 0) + "; none is allowed";
  const int d = m.unit == "count" ? 0 : 1;
  std::string text = m.never.empty() ? num(m.measured, d) + " " + m.unit : m.never + " within " + at_least(m.measured, d) + " " + m.unit;
  if (m.limit_low && m.limit_high && *m.limit_low != *m.limit_high)
    return text + "; allowed is " + num(*m.limit_low, d) + " to " + num(*m.limit_high, d) + " " + m.unit;
  if (m.limit_high) return text + "; at most " + num(*m.limit_high, d) + " " + m.unit + " is allowed";
  if (m.limit_low) return text + "; at least " + num(*m.limit_low, d) + " " + m.unit + " is needed";
  return text;
}

CheckResult conclude(const Context& context, Findings f) {
  CheckResult r;
  r.name = context.check.name;
  r.kind = context.check.kind;
  const double ratio = context.plan.guard_band;
  for (Measure& m : f.measures)
    if (!m.withheld) m.verdict = decide(m.measured, m.limit_low, m.limit_high, m.uncertainty, ratio);
  r.verdict = overall(f.measures);
  r.headline = headline(f.measures);
  r.summary = r.headline < 0 ? "No verdict: nothing was measured." : sentence(f.measures[static_cast<std::size_t>(r.headline)], f, ratio);
  r.measures = std::move(f.measures);
  r.evidence = std::move(f.evidence);
  std::stable_sort(r.evidence.begin(), r.evidence.end(),
                   [](const Span& a, const Span& b) { return a.failing != b.failing ? a.failing : a.failing && a.severity > b.severity; });
  r.pictures = std::move(f.pictures);
  if (r.verdict == Verdict::fail) r.causes = std::move(f.causes);
  return r;
}

CheckResult undecided(const Context& context, const std::string& why) {
  CheckResult r;
  r.name = context.check.name;
  r.kind = context.check.kind;
  r.summary = "No verdict: " + why;
  for (const auto& s : context.segments) r.evidence.push_back({s.begin, s.end, "the whole check", false, {}, {}});
  return r;
}

Opened open(const Context& context, std::int64_t needed) {
  auto all = traffic_of(context);
  if (!all) return {{}, undecided(context, all.error().message)};
  Opened opened{all.take(), {}};
  if (const auto why = too_little(opened.all, needed)) opened.stop = undecided(context, *why);
  return opened;
}

std::optional<std::string> too_little(const std::vector<Traffic>& all, std::int64_t needed) {
  if (all.empty()) return "the run never reached this check.";
  for (const Traffic& t : all) {
    for (const PulseTrain* input : {&t.throttle(), &t.steering()})
      if (const char* what = thin(*input, 1)) return std::string("the bench sent ") + what + " on an input.";
    for (const Side s : kSides) {
      const std::string& line = s == Side::left ? t.wiring().left_name : t.wiring().right_name;
      if (const char* what = thin(t.output(s), needed))
        return std::string(what) + " seen on the " + name(s) + " output (" + line + "). Is it wired, and does the controller run?";
      if (t.output(s).broken() > 0)
        return whole(t.output(s).broken()) + " edges of the " + name(s) + " output (" + line + ") are missing in the record.";
    }
  }
  return {};
}

}  // namespace midstick::judge
