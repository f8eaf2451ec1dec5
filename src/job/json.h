// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// job.json: reading, writing, older versions.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/job.h"

namespace shimsight::job {

/// The schema is one of a later program. A record that is merely newer is not damaged.
class NewerSchema : public InputError {
public:
    using InputError::InputError;
};

struct Parsed {
    JobRecord record;
    nlohmann::json document;  ///< as read, brought to the present version
    std::vector<std::string> warnings;
    std::optional<std::string> upgradedFrom;
};

/// Throws NewerSchema, or InputError that names file and line or field.
Parsed parse(std::string_view text, const std::string& fileName);

nlohmann::json documentOf(const JobRecord& job);

/// The text of a whole file. Fields of `former` that this program does not know are kept in their places.
std::string textOf(nlohmann::json document, const nlohmann::json& former);

/// One entry of the document as it stands in the record: "t3", "p1", a key of the check lists; null: none.
nlohmann::json entryJson(const JobRecord& job, std::string_view id);

/// Brings a document of an older version to the present one; the schema it had, or nullopt when it was the present one.
/// Throws NewerSchema, or InputError for what is no job record at all.
std::optional<std::string> upgrade(nlohmann::json& document, const std::string& fileName);

}  // namespace shimsight::job
