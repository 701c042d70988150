#include "daemon/judge/traffic.hpp"

#include <algorithm>

#include "daemon/judge/uncertainty.hpp"
#include "daemon/mixer/model.hpp"

namespace midstick::judge {

Result<Wiring> wire(const script::Plan& plan) {
  const auto missing = [&](const char* what, const std::string& which) {
    return Error{ErrorKind::bad_file, "The mixer spec's " + std::string(what) + " '" + which + "' is not in the controller description '" +
                                          plan.controller.name + "'."};
  };
  Wiring w;
  for (const auto& [spec, line] : {std::pair{&plan.spec.throttle, &w.throttle}, std::pair{&plan.spec.steering, &w.steering}}) {
    const auto* pin = plan.controller.input(spec->name);
    if (!pin) return missing("input", spec->name);
    *line = pin->line_no;
  }
  const auto* left = plan.controller.output(plan.spec.left.name);
  if (!left) return missing("output", plan.spec.left.name);
  const auto* right = plan.controller.output(plan.spec.right.name);
  if (!right) return missing("output", plan.spec.right.name);
  w.left = left->line_no, w.left_name = left->line;
  w.right = right->line_no, w.right_name = right->line;
  return w;
}

Traffic::Traffic(const Context& context, const capture::Segment& segment, const Wiring& wiring)
    : capture_(&context.capture), segment_(&segment), wiring_(wiring), controller_clock_(context.controller_clock) {
  const auto in = edges_within(context.capture.stimulus, segment.begin, segment.end);
  const auto out = edges_within(context.capture.response, segment.begin, segment.end);
  throttle_ = PulseTrain(in, wiring.throttle, segment.begin, segment.end);
  steering_ = PulseTrain(in, wiring.steering, segment.begin, segment.end);
  left_ = PulseTrain(out, wiring.left, segment.begin, segment.end);
  right_ = PulseTrain(out, wiring.right, segment.begin, segment.end);
}

double Traffic::width_uncertainty(const Pulse& p) const { return span_uncertainty_us(*capture_, p.width(), p.rise_half, p.fall_half); }

std::vector<const capture::Mark*> Traffic::marks(const std::string& label) const {
  std::vector<const capture::Mark*> found;
  for (const auto& m : segment_->marks)
    if (m.label == label) found.push_back(&m);
  return found;
}

BoardTime Traffic::end_of(const capture::Mark& mark) const {
  for (const auto& m : segment_->marks)
    if (m.at > mark.at) return m.at;
  return segment_->end;
}

Span Traffic::span(BoardTime begin, BoardTime end, std::string label, bool failing) const {
  return {begin, end, std::move(label), failing, {wiring_.throttle, wiring_.steering}, {wiring_.left, wiring_.right}};
}

Result<std::vector<Traffic>> traffic_of(const Context& context) {
  auto wiring = wire(context.plan);
  if (!wiring) return wiring.error();
  std::vector<Traffic> all;
  all.reserve(context.segments.size());
  for (const auto& segment : context.segments) all.emplace_back(context, segment, *wiring);
  return all;
}

Widths widths_of(const Traffic& traffic, std::span<const Pulse> pulses) {
  Widths w;
  w.us.reserve(pulses.size());
  const auto crowded = std::count_if(pulses.begin(), pulses.end(), [](const Pulse& p) { return p.crowded; });
  const bool enough = 2 * static_cast<std::size_t>(crowded) <= pulses.size();
  for (const Pulse& p : pulses) {
    if (enough && p.crowded) continue;
    w.us.push_back(traffic.us(p));
    w.uncertainty = std::max(w.uncertainty, traffic.width_uncertainty(p));
  }
  return w;
}

void add(Widths& to, const Widths& more) {
  to.us.insert(to.us.end(), more.us.begin(), more.us.end());
  to.uncertainty = std::max(to.uncertainty, more.uncertainty);
}

double neutral_of(const script::Plan& plan, Side s) {
  const auto y = mixer::expected(plan.spec, plan.spec.throttle.centre_us, plan.spec.steering.centre_us);
  return s == Side::left ? y.left_us : y.right_us;
}

}  // namespace midstick::judge
