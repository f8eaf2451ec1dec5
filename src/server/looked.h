/// The first look at a photo that has just come in: which flanks are there, and what to do better before Read. What it
/// measured is kept for a while, so that Read does not do it again.
#pragma once

#include <cstdint>
#include <list>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "shimsight/job.h"
#include "shimsight/measure.h"

namespace shimsight::server {

class Looked {
public:
    /// Measures the photo with the job's gear set and keeps that. JSON: the flanks, a verdict and a line for people.
    /// `wanted`: the side that it was taken of.
    std::string lookAt(const std::string& upload, const std::vector<std::uint8_t>& bytes, const JobGearSet& gearSet,
                       std::optional<Side> wanted);
    /// What was measured of this upload with this gear set; null: nothing, or not any more.
    std::shared_ptr<const MeasuredPhoto> find(const std::string& upload, const std::string& gearSetDocument) const;

private:
    struct Kept {
        std::string upload, gearSet;
        std::shared_ptr<const MeasuredPhoto> measured;
    };
    mutable std::mutex guard_;
    std::list<Kept> kept_;  ///< newest first
};

}  // namespace shimsight::server
