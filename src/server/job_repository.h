// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The job folders that are served, and the views of them. A job is asked for by the name of its folder, which is
/// compared with the names that are there and never made into a path.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "server/guard.h"
#include "shimsight/job.h"

namespace shimsight::server {

class JobIndex;

struct View {
    std::string text;  ///< JSON
    std::string tag;   ///< of this state of the record
};

struct OfferedGearSet {
    std::string id;  ///< "lab-van-rear-axle-a.json", or with the folder's place before it when the name is there twice
    std::filesystem::path file;
    std::string name;  ///< empty: the file cannot be used
    std::string fault;
    bool own = false;  ///< of the shop: it can be changed and deleted
};

/// Which jobs are wanted of the list; all by themselves.
struct JobSearch {
    std::string words;              ///< each of them in axle, customer, worker, gear set or folder, whatever the case
    std::optional<bool> signedOff;  ///< signed off ones only, or open ones only
    std::string from, to;           ///< days of the last change, "2026-03-02", both included; empty: any
    std::size_t skip = 0;           ///< of those that fit
    std::optional<std::size_t> limit;  ///< as many at most
};

class JobRepository {
public:
    /// `ownFolder`: what the server keeps for itself, in it the flank maps as measured.
    JobRepository(std::filesystem::path jobs, std::vector<std::filesystem::path> gearSets,
                  const std::filesystem::path& ownFolder, OpenedBy by = OpenedBy::Server);
    ~JobRepository();
    JobRepository(const JobRepository&) = delete;
    JobRepository& operator=(const JobRepository&) = delete;

    /// Folder of the job; nullopt: there is none of this name. Throws InputError where a link in it leads out of the
    /// folder of jobs.
    std::optional<std::filesystem::path> find(std::string_view id) const;
    OpenedJob open(const std::filesystem::path& folder) const;  ///< one of folders(); as find
    /// The folder of the job that a request makes: day, words of the axle, and digits that depend on the request alone,
    /// so that the same request finds the job that it made.
    std::filesystem::path newFolder(const std::string& day, std::string_view axle, const std::string& request) const;

    /// JSON of the jobs that fit, newest change first.
    std::string list(const JobSearch& search = {}) const;
    /// After a change of this job by the server: its line of the list is made anew, no other is looked at.
    void changed(const std::filesystem::path& folder) const;
    std::vector<std::filesystem::path> folders() const;  ///< of all jobs, in no order
    /// What tells one state of a job's record from another without reading it.
    static std::string tagOf(const std::filesystem::path& folder);
    std::optional<View> view(std::string_view id) const;

    std::vector<OfferedGearSet> gearSets() const;
    std::string gearSetList() const;
    /// The folder into which new gear sets are written.
    const std::filesystem::path& ownGearSets() const { return gearSets_.front(); }
    static std::string ownId(const std::string& fileName) { return "0/" + fileName; }
    /// The file of a gear set of the shop's own; nullopt: there is none of this id.
    std::optional<std::filesystem::path> findOwnGearSet(std::string_view id) const;
    /// Deletes one of the shop's own, or brings it back. Done already: nothing happens. Throws InputError.
    void moveOwnGearSet(std::string_view id, bool deleted) const;

    /// Keeps the maps of a trial as measured, so that sketches show the mark itself and not only its size.
    void keepMaps(std::string_view job, std::string_view trial, const Measurement& measurement) const;

private:
    std::filesystem::path deletedGearSets() const;
    struct Cached {
        std::string tag, text;
    };
    std::optional<FlankMap> mapOf(const std::filesystem::path& folder, const TrialEntry& trial, Side side) const;
    std::string viewText(const std::filesystem::path& folder) const;
    std::unique_ptr<JobIndex> index_;

    std::filesystem::path jobs_;
    std::vector<std::filesystem::path> gearSets_;
    std::filesystem::path maps_;
    mutable std::mutex guard_;
    mutable std::map<std::string, Cached, std::less<>> views_;
};

}  // namespace shimsight::server
