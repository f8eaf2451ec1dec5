// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Work in the order in which it came, done by a fixed number of threads, with a bound on what waits.
#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

namespace shimsight::server {

enum class TaskState { Waiting, Working, Done, Failed };

struct TaskView {
    TaskState state = TaskState::Waiting;
    std::size_t ahead = 0;   ///< that come before it
    double waitSeconds = 0;  ///< until it is done, told with room
    std::string result;      ///< JSON when done, one sentence when failed
};

/// A promise of work done once for each id. The mean time that it took tells what is still to come how long to wait.
class WorkQueue {
public:
    using Work = std::function<std::string()>;  ///< gives the result; what it throws becomes the sentence

    /// `tell` turns what was thrown into a sentence; called from within a catch.
    WorkQueue(int threads, std::size_t maxWaiting, std::function<std::string()> tell);
    ~WorkQueue();
    WorkQueue(const WorkQueue&) = delete;
    WorkQueue& operator=(const WorkQueue&) = delete;

    /// False: the queue is full, or the end has begun. An id that is known already is not taken again.
    bool add(const std::string& id, Work work);
    /// Keeps a place for a task that is about to be accepted; false: none is free.
    bool reserve();
    void release();  ///< the place is not needed after all
    /// Takes a task that was accepted, in its place when one was kept, else beyond the bound.
    void addAccepted(const std::string& id, Work work, bool placeKept);
    std::optional<TaskView> find(const std::string& id) const;
    /// Seconds until a new task would be done, told with room.
    double waitSeconds() const;
    /// Seconds until a place in a full queue will be free.
    double placeSeconds() const;
    /// Takes nothing new, and returns when everything taken is finished, or at `deadline` when the work in hand is:
    /// what was not begun by then is let go, and its file on the disk brings it to the next run.
    void finish(std::chrono::steady_clock::time_point deadline);

private:
    struct Task {
        Work work;
        TaskState state = TaskState::Waiting;
        std::string result;
    };
    void loop();
    double secondsFor(std::size_t ahead) const;

    std::size_t threads_, maxWaiting_;
    std::function<std::string()> tell_;
    mutable std::mutex guard_;
    std::condition_variable changed_;
    std::map<std::string, Task> tasks_;
    std::deque<std::string> waiting_, finished_;
    std::size_t working_ = 0, reserved_ = 0;
    double meanSeconds_;
    bool ending_ = false;
    std::vector<std::thread> workers_;
};

}  // namespace shimsight::server
