// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "server/links.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "server/guard.h"
#include "shimsight/files.h"
#include "shimsight/job.h"
#include "shimsight/words.h"

namespace shimsight::server {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::size_t kMaxLinks = 2000;
constexpr std::int64_t kMaxNoteBytes = 10'000, kMaxLinkedBytes = 60'000'000;

std::string noteOf(const fs::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxNoteBytes);
    return {bytes.begin(), bytes.end()};
}

}  // namespace

Links::Links(fs::path folder) : folder_(std::move(folder)) {
    std::error_code error;
    fs::create_directories(folder_, error);
    if (error) throw InputError(message("server.folder-not-made", folder_.string(), error.message()));
}

/// Of each link a page "TICKET.html" and beside it a note of its job.
std::vector<Link> Links::all() const {
    std::vector<Link> found;
    std::error_code error;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_, error)) {
        if (entry.path().extension() != ".json" || !isId(entry.path().stem().string())) continue;
        try {
            const json note = json::parse(noteOf(entry.path()));
            found.push_back({entry.path().stem().string(), note.at("job"), note.at("made_at")});
        } catch (const InputError&) {
            continue;
        } catch (const json::exception&) {
            continue;
        }
    }
    std::sort(found.begin(), found.end(), [](const Link& a, const Link& b) { return a.madeAt > b.madeAt; });
    return found;
}

std::vector<Link> Links::of(const std::string& job) const {
    const std::lock_guard lock(guard_);
    std::vector<Link> links = all();
    std::erase_if(links, [&](const Link& one) { return one.job != job; });
    return links;
}

std::string Links::add(const std::string& job, const MadeDocument& made) {
    const std::lock_guard lock(guard_);
    if (all().size() >= kMaxLinks) throw InputError(message("server.too-many-links", kMaxLinks));
    std::string ticket = randomHex(16);
    writeFileAtomically(folder_ / (ticket + ".html"), std::vector<std::uint8_t>(made.bytes.begin(), made.bytes.end()));
    const std::string note = json{{"job", job}, {"made_at", timeNow()}}.dump();
    writeFileAtomically(folder_ / (ticket + ".json"), std::vector<std::uint8_t>(note.begin(), note.end()));
    return ticket;
}

bool Links::remove(const std::string& job, const std::string& ticket) {
    const std::lock_guard lock(guard_);
    for (const Link& one : all()) {
        if (one.ticket != ticket || one.job != job) continue;
        std::error_code error;
        fs::remove(folder_ / (one.ticket + ".json"), error);
        fs::remove(folder_ / (one.ticket + ".html"), error);
        return true;
    }
    return false;
}

std::optional<MadeDocument> Links::document(const std::string& ticket) const {
    if (!isId(ticket)) return std::nullopt;
    const std::lock_guard lock(guard_);
    for (const Link& one : all()) {
        if (one.ticket != ticket) continue;
        const std::vector<std::uint8_t> bytes = readFile(folder_ / (one.ticket + ".html"), kMaxLinkedBytes);
        return MadeDocument{std::string(kPageType), {bytes.begin(), bytes.end()}};
    }
    return std::nullopt;
}

}  // namespace shimsight::server
