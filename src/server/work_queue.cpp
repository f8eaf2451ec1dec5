// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/work_queue.h"

#include <algorithm>
#include <chrono>
#include <system_error>

#include "shimsight/core.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

/// What a trial of two photos takes before any was timed.
constexpr double kFirstGuessSeconds = 2;
/// The wait that is told over the one to expect: a promise that hard photos and other work on the machine may strain.
constexpr double kToldOverExpected = 2;
/// Share of the newest duration in the running mean.
constexpr double kNewShare = 0.2;
/// Finished tasks whose result is still told; later the request's own file answers.
constexpr std::size_t kMaxFinished = 256;

}  // namespace

WorkQueue::WorkQueue(int threads, std::size_t maxWaiting, std::function<std::string()> tell)
    : threads_(static_cast<std::size_t>(std::max(1, threads))),
      maxWaiting_(maxWaiting),
      tell_(std::move(tell)),
      meanSeconds_(kFirstGuessSeconds) {
    try {
        for (std::size_t i = 0; i < threads_; ++i) workers_.emplace_back([this] { loop(); });
    } catch (const std::system_error&) {
        finish(std::chrono::steady_clock::now());
        throw InputError(message("server.no-memory-for-a-server"));
    }
}

WorkQueue::~WorkQueue() { finish(std::chrono::steady_clock::now()); }

bool WorkQueue::add(const std::string& id, Work work) {
    const std::lock_guard lock(guard_);
    if (tasks_.contains(id)) return true;
    if (ending_ || waiting_.size() + reserved_ >= maxWaiting_) return false;
    tasks_[id].work = std::move(work);
    waiting_.push_back(id);
    changed_.notify_one();
    return true;
}

double WorkQueue::secondsFor(std::size_t ahead) const {
    return kToldOverExpected * meanSeconds_ * (1 + static_cast<double>(ahead) / static_cast<double>(threads_));
}

std::optional<TaskView> WorkQueue::find(const std::string& id) const {
    const std::lock_guard lock(guard_);
    const auto task = tasks_.find(id);
    if (task == tasks_.end()) return std::nullopt;
    TaskView view;
    view.state = task->second.state;
    view.result = task->second.result;
    if (view.state == TaskState::Waiting) {
        const auto place = std::find(waiting_.begin(), waiting_.end(), id);
        view.ahead = static_cast<std::size_t>(place - waiting_.begin()) + working_;
    }
    if (view.state == TaskState::Waiting || view.state == TaskState::Working) view.waitSeconds = secondsFor(view.ahead);
    return view;
}

bool WorkQueue::reserve() {
    const std::lock_guard lock(guard_);
    if (ending_ || waiting_.size() + reserved_ >= maxWaiting_) return false;
    ++reserved_;
    return true;
}

void WorkQueue::release() {
    const std::lock_guard lock(guard_);
    --reserved_;
}

void WorkQueue::addAccepted(const std::string& id, Work work, bool placeKept) {
    const std::lock_guard lock(guard_);
    if (placeKept) --reserved_;
    // After the end it lies on the disk and is taken up by the next run.
    if (tasks_.contains(id) || ending_) return;
    tasks_[id].work = std::move(work);
    waiting_.push_back(id);
    changed_.notify_one();
}

double WorkQueue::waitSeconds() const {
    const std::lock_guard lock(guard_);
    return secondsFor(waiting_.size() + working_);
}

double WorkQueue::placeSeconds() const {
    const std::lock_guard lock(guard_);
    return meanSeconds_ / static_cast<double>(threads_);
}

void WorkQueue::finish(std::chrono::steady_clock::time_point deadline) {
    {
        std::unique_lock lock(guard_);
        ending_ = true;
        changed_.notify_all();
        changed_.wait_until(lock, deadline, [this] { return waiting_.empty(); });
        waiting_.clear();
    }
    for (std::thread& worker : workers_)
        if (worker.joinable()) worker.join();
}

void WorkQueue::loop() {
    std::unique_lock lock(guard_);
    while (true) {
        changed_.wait(lock, [this] { return ending_ || !waiting_.empty(); });
        if (waiting_.empty()) return;
        const std::string id = std::move(waiting_.front());
        waiting_.pop_front();
        tasks_[id].state = TaskState::Working;
        const Work work = std::move(tasks_[id].work);
        ++working_;
        lock.unlock();
        const auto start = std::chrono::steady_clock::now();
        std::string result;
        bool done = false;
        try {
            result = work();
            done = true;
        } catch (...) {
            result = tell_();
        }
        const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
        lock.lock();
        --working_;
        if (ending_) changed_.notify_all();
        meanSeconds_ += kNewShare * (seconds - meanSeconds_);
        Task& task = tasks_[id];
        task.state = done ? TaskState::Done : TaskState::Failed;
        task.result = std::move(result);
        finished_.push_back(id);
        if (finished_.size() > kMaxFinished) {
            tasks_.erase(finished_.front());
            finished_.pop_front();
        }
    }
}

}  // namespace shimsight::server
