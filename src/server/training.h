// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Lessons, charts, live tooth, drill and set-up game for the page, by the functions of lesson.h. What is right stays
/// here until an answer came.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "server/job_repository.h"
#include "server/requests.h"
#include "server/routes.h"
#include "server/service.h"
#include "server/work_queue.h"

namespace shimsight::server {

class Training {
public:
    /// `tell` turns what was thrown into a sentence; called from within a catch. `deviceOf` tells devices apart.
    Training(const ServerOptions& options, const JobRepository& repository, std::function<std::string()> tell,
             std::function<std::string(const HttpRequest&)> deviceOf);
    ~Training();
    Training(const Training&) = delete;
    Training& operator=(const Training&) = delete;

    /// What lies under /api/training, but for drill answers. They throw InputError, and hold while this lives.
    std::vector<Route> routes();

    // An answer of the drill, by its body. All throw InputError.
    bool keepsAnswer(const std::string& body) const;  ///< whether it goes on the sheet of a name
    void takeName(const HttpRequest& ask);            ///< of an answer to an exam: no other device may have its name
    void keepAnswer(const Request& request, bool again);  ///< with `again` it may be there already
    std::string gradedAnswer(const std::string& body);    ///< JSON: how it was graded; nothing of it in an exam

    std::optional<TaskView> task(const std::string& id) const;  ///< of a picture that is being rendered
    void finish();  ///< what waits is let go, what is being rendered is finished

private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace shimsight::server
