// The one message schema: every message and field with width, unit, range and meaning. Structs, codec, description text and hash are
// generated from it (messages.hpp, schema_text.hpp); PROTOCOL.md is held to it by a test.
//
// Field(type, name, unit, low, high, meaning). Types: u8, u16, u32 little-endian unsigned; tick = 32-bit wrapping wire_tick.hpp;
// credits = six u8, one a stimulus line; tail = the rest of the payload, 0..kMaxPayload bytes.
// Layouts of hello_request, schema_read, hello, schema_text and ack are FROZEN: two versions must be able to tell how they differ.
// Macros only: nothing here takes memory. Values are exact integers; ranges are inclusive.
#ifndef MIDSTICK_PROTOCOL_SCHEMA_HPP
#define MIDSTICK_PROTOCOL_SCHEMA_HPP

#define MIDSTICK_PROTOCOL_VERSION 1

// A table: columns as they are.
// clang-format off

#define MIDSTICK_HELLO_REQUEST_FIELDS(F)
#define MIDSTICK_SCHEMA_READ_FIELDS(F) F(u16, offset, "bytes", 0, 65535, "first byte of the schema text wanted")
#define MIDSTICK_CLOCK_QUERY_FIELDS(F) F(u16, token, "", 0, 65535, "comes back unchanged in the reply")
#define MIDSTICK_START_FIELDS(F) \
  F(u16, refresh, "ms", 20, 10000, "longest silence of the host before the board goes safe") \
  F(u8, lines, "mask", 0, 255, "response lines to capture, bit n = line n")
#define MIDSTICK_STIMULUS_FIELDS(F) \
  F(tick, base, "ticks", 0, 4294967295, "the first edge counts from here") \
  F(tail, edges, "edge list", 0, 235, "stimulus edges in order of time")
#define MIDSTICK_POWER_FIELDS(F) \
  F(tick, at, "ticks", 0, 4294967295, "when; ignored if now is 1") \
  F(u8, now, "", 0, 1, "1: at once") \
  F(u8, on, "", 0, 1, "1: controller power on; 0: off")
#define MIDSTICK_CONTROLLER_RESET_FIELDS(F) \
  F(tick, at, "ticks", 0, 4294967295, "when; ignored if now is 1") \
  F(u8, now, "", 0, 1, "1: at once") \
  F(u16, hold, "ms", 1, 10000, "how long the reset line is held low")
#define MIDSTICK_STOP_FIELDS(F)
#define MIDSTICK_REFRESH_FIELDS(F)

#define MIDSTICK_HELLO_FIELDS(F) \
  F(u8, protocol, "", 1, 255, "version of the wire") \
  F(u32, schema_hash, "", 0, 4294967295, "FNV-1a of the schema text") \
  F(u8, firmware_major, "", 0, 255, "firmware version, major") \
  F(u8, firmware_minor, "", 0, 255, "firmware version, minor") \
  F(u32, boot_id, "", 0, 4294967295, "counts boots of this board") \
  F(u32, tick_rate, "Hz", 1000000, 100000000, "nominal rate of the board clock") \
  F(u8, stimulus_lines, "", 1, 6, "number of stimulus lines") \
  F(u8, capture_lines, "", 0, 8, "response lines on input capture, numbered first") \
  F(u8, pin_change_lines, "", 0, 8, "response lines on pin change, numbered after those") \
  F(u8, queue_depth, "edges", 2, 255, "stimulus edges the board can hold for each line") \
  F(u16, shortest_level, "ticks", 1, 65535, "shortest time between two edges of a stimulus line") \
  F(u32, lead, "ticks", 0, 1073741824, "shortest time ahead that a stimulus edge may arrive") \
  F(u32, longest_ahead, "ticks", 1, 1073741824, "longest time ahead that a stimulus edge may arrive") \
  F(u32, shortest_frame, "ticks", 1, 4294967295, "shortest period of pulses the board keeps up with") \
  F(u32, longest_frame, "ticks", 1, 4294967295, "longest period of pulses the board keeps up with") \
  F(u16, refresh_max, "ms", 20, 10000, "longest refresh time that start may ask for") \
  F(u8, pin_change_half, "ticks", 1, 255, "half width of a lone pin change stamp") \
  F(u16, pin_change_crowded, "ticks", 1, 65535, "half width when another edge fell within 10 us before") \
  F(u8, pin_change_base, "ticks", 0, 255, "interrupt delay, measured and already subtracted") \
  F(u8, reset_cause, "mask", 0, 255, "reset flags of the chip: 1 power-on, 2 external, 4 brown-out, 8 watchdog")
#define MIDSTICK_SCHEMA_TEXT_FIELDS(F) \
  F(u16, offset, "bytes", 0, 65535, "place of the first byte") \
  F(u16, total, "bytes", 0, 65535, "length of the whole schema text") \
  F(tail, text, "ASCII", 0, 236, "the bytes; none when offset is past the end")
#define MIDSTICK_CLOCK_REPLY_FIELDS(F) \
  F(u16, token, "", 0, 65535, "of the query") \
  F(tick, received, "ticks", 0, 4294967295, "when the last byte of the query had arrived") \
  F(tick, sent, "ticks", 0, 4294967295, "when the first byte of this reply began to leave")
#define MIDSTICK_ACK_FIELDS(F) \
  F(u8, accepted, "", 0, 255, "sequence number of the last command taken in order; 0 none since hello") \
  F(u8, refused, "reason", 0, 255, "why a command taken in order was not carried out; kept until hello or start") \
  F(u8, refused_seq, "", 0, 255, "sequence number of the first command so refused; 0 none") \
  F(credits, credits, "edges", 0, 255, "free places in each stimulus queue, after the accepted command")
#define MIDSTICK_EDGES_FIELDS(F) \
  F(tick, base, "ticks", 0, 4294967295, "the first edge counts from here") \
  F(tail, edges, "edge list", 0, 235, "response edges in the order they were read")
#define MIDSTICK_EVENT_FIELDS(F) \
  F(tick, at, "ticks", 0, 4294967295, "when it happened") \
  F(u8, kind, "kind", 1, 255, "what happened") \
  F(u16, value, "", 0, 65535, "as the kind says")
#define MIDSTICK_STATUS_FIELDS(F) \
  F(tick, now, "ticks", 0, 4294967295, "board time when this was made") \
  F(u32, boot_id, "", 0, 4294967295, "as in hello") \
  F(u8, state, "state", 0, 2, "what the board is doing") \
  F(u8, fault, "reason", 0, 255, "latched fault; 0 none") \
  F(u8, accepted, "", 0, 255, "as in ack") \
  F(credits, credits, "edges", 0, 255, "as in ack") \
  F(u16, supply, "mV", 0, 65535, "supply of the controller") \
  F(u32, edges_total, "edges", 0, 4294967295, "response edges sent since start") \
  F(u32, stimulus_done, "edges", 0, 4294967295, "stimulus edges carried out since start") \
  F(u16, edges_dropped, "edges", 0, 65535, "response edges lost inside the board since start; stays at 65535") \
  F(u16, bad_frames, "frames", 0, 65535, "damaged frames from the host since start; stays at 65535") \
  F(u16, late, "edges", 0, 65535, "stimulus edges refused as late since start; stays at 65535") \
  F(u8, levels, "mask", 0, 255, "response lines now, bit n = line n") \
  F(u8, outputs, "mask", 0, 7, "1 controller power on, 2 controller reset held, 4 stop loop open")

// Message(number, Struct, name, FIELDS, direction, frozen, meaning)
#define MIDSTICK_MESSAGES(M) \
  M(1, HelloRequest, hello_request, MIDSTICK_HELLO_REQUEST_FIELDS, "host", "frozen", \
    "ends any run, restarts the command sequence, asks for hello; seq 0") \
  M(2, SchemaRead, schema_read, MIDSTICK_SCHEMA_READ_FIELDS, "host", "frozen", "asks for a piece of schema text; seq 0, no ack") \
  M(3, ClockQuery, clock_query, MIDSTICK_CLOCK_QUERY_FIELDS, "host", "", "asks for two board stamps; seq 0, no ack, never repeated") \
  M(4, Start, start, MIDSTICK_START_FIELDS, "host", "", \
    "begins a run: counters and queues cleared, outputs low, a fault whose cause is gone cleared, capture on") \
  M(5, Stimulus, stimulus, MIDSTICK_STIMULUS_FIELDS, "host", "", "edges to make, ahead of time") \
  M(6, Power, power, MIDSTICK_POWER_FIELDS, "host", "", "controller power, reported by an event when done") \
  M(7, ControllerReset, controller_reset, MIDSTICK_CONTROLLER_RESET_FIELDS, "host", "", "holds controller reset, reported by events") \
  M(8, Stop, stop, MIDSTICK_STOP_FIELDS, "host", "", "ends a run: pulses low, power off, queues empty, capture off") \
  M(9, Refresh, refresh, MIDSTICK_REFRESH_FIELDS, "host", "", "nothing but a sign of life; every good command is one") \
  M(65, Hello, hello, MIDSTICK_HELLO_FIELDS, "board", "frozen", "identity and limits; sent on request and once after each boot") \
  M(66, SchemaText, schema_text, MIDSTICK_SCHEMA_TEXT_FIELDS, "board", "frozen", "a piece of the schema text") \
  M(67, ClockReply, clock_reply, MIDSTICK_CLOCK_REPLY_FIELDS, "board", "", "two stamps for the clock map") \
  M(68, Ack, ack, MIDSTICK_ACK_FIELDS, "board", "frozen", "answers every command with a sequence number, in order or not") \
  M(69, Edges, edges, MIDSTICK_EDGES_FIELDS, "board", "", "response edges") \
  M(70, Event, event, MIDSTICK_EVENT_FIELDS, "board", "", "something happened on the board") \
  M(71, BoardState, status, MIDSTICK_STATUS_FIELDS, "board", "", "every 100 ms while started or faulted")

// Entry(number, name, meaning)
#define MIDSTICK_FAULTS(E) \
  E(1, host_silent, "no good command within the refresh time") \
  E(2, stop_loop_open, "the stop loop is open") \
  E(3, stimulus_late, "a stimulus edge arrived or was due too late") \
  E(4, capture_overflow, "response edges came faster than they could be kept") \
  E(5, watchdog, "the watchdog restarted the board") \
  E(6, self_test, "the board failed its own check at boot") \
  E(7, transmit_overflow, "the wire to the host was full") \
  E(8, stimulus_mismatch, "a stimulus pin was not at the level it must have")
#define MIDSTICK_REFUSALS(E) \
  E(1, not_started, "needs a started run") \
  E(2, late, "an edge is nearer than lead, or past") \
  E(3, too_far_ahead, "an edge or action is further than longest_ahead") \
  E(4, not_alternating, "an edge repeats the level its line will have") \
  E(5, no_credit, "the queue of a line is full") \
  E(6, too_close, "edges nearer than shortest_level, or out of order") \
  E(7, bad_value, "unknown message, or a field out of range") \
  E(8, faulted, "a fault is latched; start clears it once its cause is gone") \
  E(9, busy, "an earlier action of this kind is still waiting")
#define MIDSTICK_EVENTS(E) \
  E(1, power_on, "controller power went on") \
  E(2, power_off, "controller power went off") \
  E(3, reset_asserted, "controller reset pulled low") \
  E(4, reset_released, "controller reset let go") \
  E(5, stop_loop_open, "stop loop opened") \
  E(6, stop_loop_closed, "stop loop closed") \
  E(7, fault, "went safe; value is the fault reason") \
  E(8, started, "run began; sent before its first edge and status") \
  E(9, stopped, "run ended by command") \
  E(10, unseen_runt, "a pin change input moved and moved back unread; value is the line, 255 unknown") \
  E(11, edges_dropped, "response edges lost inside the board; value is how many")
#define MIDSTICK_STATES(E) \
  E(0, idle, "nothing driven, nothing captured") \
  E(1, started, "a run is on") \
  E(2, faulted, "gone safe; the reason is latched")

// clang-format on

#endif
