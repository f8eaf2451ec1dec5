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

struct View {
    std::string text;  ///< JSON
    std::string tag;   ///< of this state of the record
};

struct OfferedGearSet {
    std::string id;  ///< "lab-van-rear-axle-a.json", or with the folder's place before it when the name is there twice
    std::filesystem::path file;
    std::string name;  ///< empty: the file cannot be used
    std::string fault;
};

class Shelf {
public:
    /// `ownFolder`: what the server keeps for itself, in it the flank maps as measured.
    Shelf(std::filesystem::path jobs, std::vector<std::filesystem::path> gearSets,
          const std::filesystem::path& ownFolder, OpenedBy by = OpenedBy::Server);

    /// Folder of the job; nullopt: there is none of this name.
    std::optional<std::filesystem::path> find(std::string_view id) const;
    /// The folder of the job that a request makes: day, words of the axle, and digits that depend on the request alone,
    /// so that the same request finds the job that it made.
    std::filesystem::path newFolder(const std::string& day, std::string_view axle, const std::string& request) const;

    std::string list() const;                            ///< JSON of all jobs, newest change first
    std::vector<std::filesystem::path> folders() const;  ///< of all jobs, in no order
    /// What tells one state of a job's record from another without reading it.
    static std::string tagOf(const std::filesystem::path& folder);
    std::optional<View> view(std::string_view id) const;

    std::vector<OfferedGearSet> gearSets() const;
    std::string gearSetList() const;
    /// The folder into which new gear sets are written.
    const std::filesystem::path& ownGearSets() const { return gearSets_.front(); }

    /// Keeps the maps of a trial as measured, so that sketches show the mark itself and not only its size.
    void keepMaps(std::string_view job, std::string_view trial, const Measurement& measurement) const;

private:
    struct Cached {
        std::string tag, text;
    };
    std::optional<FlankMap> mapOf(const std::filesystem::path& folder, const TrialEntry& trial, Side side) const;
    std::string viewText(const std::filesystem::path& folder) const;
    std::string summaryOf(const std::filesystem::path& folder) const;
    std::string cached(std::map<std::string, Cached>& cache, const std::filesystem::path& folder,
                       const std::string& tag, std::string (Shelf::*make)(const std::filesystem::path&) const) const;

    std::filesystem::path jobs_;
    std::vector<std::filesystem::path> gearSets_;
    std::filesystem::path maps_;
    mutable std::mutex guard_;
    mutable std::map<std::string, Cached> views_, summaries_;
};

}  // namespace shimsight::server
