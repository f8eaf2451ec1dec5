// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The lines of the list of jobs. They are kept on the disk, and a line is made anew only when its job changed, so that
/// the list of a large archive reads no record but those that changed since it was last asked for.
#pragma once

#include <filesystem>
#include <map>
#include <mutex>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "server/job_repository.h"

namespace shimsight::server {

class JobIndex {
public:
    /// `file`: where the lines are kept; one that cannot be read is made anew.
    JobIndex(std::filesystem::path jobs, std::filesystem::path file);
    ~JobIndex();
    JobIndex(const JobIndex&) = delete;
    JobIndex& operator=(const JobIndex&) = delete;

    /// JSON of the jobs in `folders` that fit. What other programs changed is seen by the files' times.
    std::string list(const std::vector<std::filesystem::path>& folders, const JobSearch& search);
    void changed(const std::filesystem::path& folder);

private:
    struct Line {
        std::string tag, words;  ///< `words`: what is searched, in small letters
        nlohmann::json shown;
    };
    Line lineOf(const std::filesystem::path& folder, const std::string& tag) const;
    void refresh(const std::vector<std::filesystem::path>& folders);
    void keep();

    std::filesystem::path jobs_, file_;
    std::mutex guard_;
    std::map<std::string, Line> lines_;
    bool kept_ = true;  ///< the disk has them all
};

}  // namespace shimsight::server
