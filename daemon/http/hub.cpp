#include "daemon/http/hub.hpp"

#include <utility>

namespace midstick::http {

bool MessageQueue::push(Shared message) {
  if (!message->key.empty()) {
    const auto [found, fresh] = by_key_.try_emplace(message->key, popped_ + waiting_.size());
    if (!fresh) {
      waiting_[found->second - popped_] = std::move(message);
      return false;
    }
  }
  waiting_.push_back(std::move(message));
  return true;
}

MessageQueue::Shared MessageQueue::pop() {
  if (waiting_.empty()) return nullptr;
  Shared first = std::move(waiting_.front());
  waiting_.pop_front();
  ++popped_;
  if (!first->key.empty()) by_key_.erase(first->key);
  return first;
}

void MessageQueue::clear() {
  waiting_.clear();
  by_key_.clear();
}

MessageQueue::Shared Listener::next(Instant now) {
  auto message = queue_.pop();
  if (message) write_began_ = now;
  return message;
}

void Listener::greet(std::string text) { queue_.push(std::make_shared<const Message>(Message{"", "", std::move(text)})); }

void Listener::taken() { write_began_.reset(); }
void Listener::heard(Instant now) { heard_ = now; }

Hub::Hub(HubOptions options, std::function<void(std::function<void()>)> post) : options_(options), post_(std::move(post)) {}

void Hub::publish(Message message) {
  auto shared = std::make_shared<const Message>(std::move(message));
  bool first = false;
  {
    const std::lock_guard lock(mutex_);
    ++published_;
    if (!inbox_.push(std::move(shared))) ++coalesced_;
    first = !std::exchange(posted_, true);
  }
  if (first) post_([this] { hand_out(); });
}

void Hub::hand_out() {
  MessageQueue fresh;
  {
    const std::lock_guard lock(mutex_);
    std::swap(fresh, inbox_);
    posted_ = false;
  }
  while (const auto message = fresh.pop()) {
    for (std::size_t i = listeners_.size(); i-- > 0;) {
      Listener& listener = *listeners_[i];
      if (listener.wants_ && !listener.wants_(message->topic)) continue;
      if (!listener.queue_.push(message)) ++counters_.coalesced;
      if (listener.queue_.size() > options_.queue_bound) drop(i, counters_.dropped_full);
    }
  }
  // A listener may leave while it is woken, so each is held and looked up by position from a copy.
  const auto all = listeners_;
  for (const auto& listener : all)
    if (listener->queue_.size() > 0) listener->callbacks_.wake();
}

std::shared_ptr<Listener> Hub::join(std::function<bool(std::string_view)> wants, Listener::Callbacks callbacks, Instant now) {
  auto listener = std::make_shared<Listener>();
  listener->wants_ = std::move(wants);
  listener->callbacks_ = std::move(callbacks);
  listener->heard_ = listener->pinged_ = now;
  listeners_.push_back(listener);
  ++counters_.joined;
  return listener;
}

void Hub::leave(const std::shared_ptr<Listener>& listener) {
  std::erase(listeners_, listener);
  listener->queue_.clear();
}

void Hub::drop(std::size_t index, std::uint64_t& counter) {
  const auto listener = listeners_[index];
  listeners_.erase(listeners_.begin() + static_cast<std::ptrdiff_t>(index));
  listener->queue_.clear();
  ++counter;
  listener->callbacks_.drop();
}

void Hub::sweep(Instant now) {
  for (std::size_t i = listeners_.size(); i-- > 0;) {
    Listener& listener = *listeners_[i];
    if (listener.write_began_ && now - *listener.write_began_ >= options_.stall) {
      drop(i, counters_.dropped_stalled);
    } else if (now - listener.heard_ >= options_.silence) {
      drop(i, counters_.dropped_silent);
    } else if (now - listener.pinged_ >= options_.ping) {
      listener.pinged_ = now;
      listener.callbacks_.ping();
    }
  }
}

HubCounters Hub::counters() const {
  HubCounters out = counters_;
  out.listeners = listeners_.size();
  const std::lock_guard lock(mutex_);
  out.published = published_;
  out.coalesced += coalesced_;
  return out;
}

}  // namespace midstick::http
