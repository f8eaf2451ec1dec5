// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Build sheets with an address that lives until it is taken back: to send to a customer. Who has the address sees this
/// sheet and nothing else.
#pragma once

#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "server/documents.h"

namespace shimsight::server {

struct Link {
    std::string ticket, job, madeAt;
};

class Links {
public:
    explicit Links(std::filesystem::path folder);

    std::vector<Link> of(const std::string& job) const;  ///< newest first
    /// Keeps the document; gives the ticket. Throws InputError.
    std::string add(const std::string& job, const MadeDocument& made);
    /// Takes a link back; false: there is none.
    bool remove(const std::string& job, const std::string& ticket);
    std::optional<MadeDocument> document(const std::string& ticket) const;

private:
    std::vector<Link> all() const;
    std::filesystem::path folder_;
    mutable std::mutex guard_;
};

}  // namespace shimsight::server
