// Fuzz target: frame decoder, message decode, and a whole Link, fed by a small language of host calls and board bytes.
//
// Each step of the input is: one byte what, one byte size, then that many bytes. A frame made from them gets the right CRC and the next
// sequence number, else no input would ever come past the CRC. A broken promise of the codec or the link aborts.
#include <cstdint>
#include <cstdlib>
#include <span>
#include <variant>
#include <vector>

#include "daemon/link/link.hpp"
#include "protocol/edge_list.hpp"
#include "protocol/schema_text.hpp"

namespace {

using namespace midstick;
using Bytes = std::vector<std::uint8_t>;

void require(bool held) {
  if (!held) std::abort();
}

struct ByteSink {
  Bytes bytes;
  void put(std::uint8_t byte) { bytes.push_back(byte); }
};

/// What decodes must encode to the same bytes.
template <class Message>
void check_message(std::span<const std::uint8_t> payload) {
  Message message{};
  if (!protocol::decode(payload.data(), static_cast<std::uint8_t>(payload.size()), message)) return;
  ByteSink sink;
  require(protocol::encode(sink, message));
  require(sink.bytes == Bytes(payload.begin(), payload.end()));
}

void check_codec(std::span<const std::uint8_t> bytes) {
  protocol::FrameDecoder decoder;
  for (std::uint8_t byte : bytes) {
    if (decoder.push(byte) != protocol::FrameStep::frame) continue;
    require(decoder.payload_size() <= protocol::kMaxPayload);
    (void)link::frame_text(decoder.type(), decoder.seq(), {decoder.payload(), decoder.payload_size()});
  }
  const auto payload = bytes.first(std::min<std::size_t>(bytes.size(), protocol::kMaxPayload));
#define MIDSTICK_CHECK(number, Struct, name, FIELDS, direction, frozen, meaning) check_message<protocol::Struct>(payload);
  MIDSTICK_MESSAGES(MIDSTICK_CHECK)
#undef MIDSTICK_CHECK
}

/// What a link may say, whatever it heard.
void check_event(const link::LinkEvent& event) {
  if (const auto* arrived = std::get_if<link::EdgesArrived>(&event)) {
    require(!arrived->edges.empty() && arrived->edges.size() <= protocol::kMaxEdgeListBytes / 2);
    for (const auto& edge : arrived->edges) require(edge.line < protocol::kResponseLines && edge.half_width > 0);
  }
  if (const auto* failed = std::get_if<link::Failed>(&event)) require(!failed->error.message.empty());
}

class Conversation {
 public:
  Conversation() { link_.open({0}); }

  void step(std::uint8_t what, std::span<const std::uint8_t> bytes) {
    now_.count += 1'000'000;
    switch (what % 12) {
      case 0:
        link_.on_bytes(bytes, now_);
        break;
      case 1:
        frame(bytes);
        break;
      case 2:
        hello(bytes);
        break;
      case 3:
        link_.on_deadline(now_ = link_.next_deadline() < HostTime{1ll << 50} ? link_.next_deadline() : now_);
        break;
      case 4:
        link_.start(500, what, now_);
        break;
      case 5:
        stimulate(bytes);
        break;
      case 6:
        link_.power(what > 100, BoardTime{what * 1'000'000ll}, now_);
        break;
      case 7:
        link_.reset_controller(static_cast<std::uint16_t>(what + 1), std::nullopt, now_);
        break;
      case 8:
        link_.stop(now_);
        break;
      case 9:
        link_.query_clock(now_);
        break;
      case 10:
        now_.count += 100'000'000ll * what;
        break;
      default:
        link_.open(now_);
        break;
    }
    settle();
  }

  void end() { (void)link_.recent_frames().size(); }

 private:
  void frame(std::span<const std::uint8_t> bytes) {
    if (bytes.empty()) return;
    const bool in_order = (bytes[0] & 0x80) == 0;
    protocol::FixedOutput<2 * protocol::kMaxWireFrame> out;
    protocol::FrameEncoder<decltype(out)> encoder(out);
    encoder.begin(static_cast<std::uint8_t>(64 + (bytes[0] & 15)), in_order ? seq_++ : bytes[0]);
    for (std::uint8_t byte : bytes.subspan(1)) encoder.put(byte);
    encoder.end();
    link_.on_bytes({out.data(), out.size()}, now_);
  }
  void hello(std::span<const std::uint8_t> bytes) {
    protocol::Hello hello{1, protocol::kSchemaHash, 1, 0, 7, 16'000'000, 6, 2, 6, 32, 160, 160, 1u << 24, 1, 1, 2000, 8, 64, 40, 0};
    if (!bytes.empty()) hello.schema_hash ^= bytes[0] / 128;
    if (bytes.size() > 1) hello.boot_id += bytes[1] / 128;
    protocol::FixedOutput<protocol::kMaxWireFrame> out;
    protocol::write_frame(out, seq_++, hello);
    link_.on_bytes({out.data(), out.size()}, now_);
  }
  void stimulate(std::span<const std::uint8_t> bytes) {
    std::vector<link::StimulusEdge> edges;
    BoardTime at = link_.board_now(now_).value_or(BoardTime{});
    for (std::uint8_t byte : bytes) edges.push_back({at = at + BoardSpan{byte * 100}, static_cast<std::uint8_t>(byte % 6), byte > 127});
    link_.stimulate(edges, now_);
  }
  /// Everything sent must be whole frames that a board can read; everything said must make sense.
  void settle() {
    protocol::FrameDecoder decoder;
    auto last = protocol::FrameStep::nothing;
    for (std::uint8_t byte : link_.take_output()) {
      last = decoder.push(byte);
      require(last == protocol::FrameStep::nothing || last == protocol::FrameStep::frame);
      if (last == protocol::FrameStep::frame) require(decoder.type() >= 1 && decoder.type() <= 9);
    }
    while (const auto event = link_.next_event()) check_event(*event);
    require(!(link_.ready() && link_.failed()));
  }

  link::Link link_;
  HostTime now_{0};
  std::uint8_t seq_{0};
};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::span<const std::uint8_t> left(data, size);
  check_codec(left);
  Conversation conversation;
  while (left.size() >= 2) {
    const std::uint8_t what = left[0];
    const std::size_t length = std::min<std::size_t>(left[1], left.size() - 2);
    conversation.step(what, left.subspan(2, length));
    left = left.subspan(2 + length);
  }
  conversation.end();
  return 0;
}
