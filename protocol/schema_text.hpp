// The schema as text, one line a message, field or number, and the hash of that text. Board and host compare hashes at hello; when they
// differ the host reads the board's text and shows the lines that differ.
//
// MIDSTICK_SCHEMA_TEXT is a string literal, so that the firmware can keep it in flash:
//   const char kSchemaText[] PROGMEM = MIDSTICK_SCHEMA_TEXT;   // sizeof - 1 bytes, newline after every line
// kSchemaHash is computed by the compiler; using it alone puts no text into memory. Freestanding C++14.
#ifndef MIDSTICK_PROTOCOL_SCHEMA_TEXT_HPP
#define MIDSTICK_PROTOCOL_SCHEMA_TEXT_HPP

#include <stddef.h>
#include <stdint.h>

#include "protocol/schema.hpp"

#define MIDSTICK_QUOTE_(x) #x
#define MIDSTICK_QUOTE(x) MIDSTICK_QUOTE_(x)
#define MIDSTICK_FIELD_LINE(type, name, unit, low, high, meaning) "  " #name " " #type " " #low ".." #high " [" unit "] " meaning "\n"
#define MIDSTICK_MESSAGE_LINE(number, Struct, name, FIELDS, direction, frozen, meaning) \
  "message " #number " " #name " from " direction " " frozen ": " meaning "\n" FIELDS(MIDSTICK_FIELD_LINE)
#define MIDSTICK_FAULT_LINE(number, name, meaning) "fault " #number " " #name ": " meaning "\n"
#define MIDSTICK_REFUSAL_LINE(number, name, meaning) "refusal " #number " " #name ": " meaning "\n"
#define MIDSTICK_EVENT_LINE(number, name, meaning) "event " #number " " #name ": " meaning "\n"
#define MIDSTICK_STATE_LINE(number, name, meaning) "state " #number " " #name ": " meaning "\n"

#define MIDSTICK_SCHEMA_TEXT                                                                                                               \
  "protocol " MIDSTICK_QUOTE(MIDSTICK_PROTOCOL_VERSION) "\n" MIDSTICK_MESSAGES(MIDSTICK_MESSAGE_LINE) MIDSTICK_FAULTS(MIDSTICK_FAULT_LINE) \
      MIDSTICK_REFUSALS(MIDSTICK_REFUSAL_LINE) MIDSTICK_EVENTS(MIDSTICK_EVENT_LINE) MIDSTICK_STATES(MIDSTICK_STATE_LINE)

namespace midstick {
namespace protocol {

/// FNV-1a, 32 bits (Fowler, Noll, Vo), over the first `size` characters.
constexpr uint32_t fnv1a(const char* text, size_t size) {
  uint32_t hash = 2166136261u;
  for (size_t i = 0; i < size; ++i) hash = (hash ^ static_cast<uint8_t>(text[i])) * 16777619u;
  return hash;
}

/// Bytes of schema text, without the terminator.
constexpr size_t kSchemaTextSize = sizeof(MIDSTICK_SCHEMA_TEXT) - 1;
constexpr uint32_t kSchemaHash = fnv1a(MIDSTICK_SCHEMA_TEXT, kSchemaTextSize);

}  // namespace protocol
}  // namespace midstick

#endif
