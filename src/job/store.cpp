// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <fcntl.h>
#include <openssl/evp.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <system_error>

#include "job/json.h"
#include "job/words.h"
#include "shimsight/blank.h"
#include "shimsight/photo_clean.h"
#include "shimsight/words.h"

namespace shimsight {
namespace {

namespace fs = std::filesystem;

constexpr const char* kLockFile = "job.lock";
/// A writer holds the lock for well under a second; one that does not let go hangs.
constexpr int kPatienceMs = 20'000;
/// Damaged records that are kept one beside the other.
constexpr int kMaxDamagedKept = 1000;
constexpr std::size_t kNameDigits = 16;  ///< of a photo's name: 64 bits of its hash

fs::path recordOf(const fs::path& folder) { return folder / kJobFile; }
fs::path previousOf(const fs::path& folder) { return folder / kPreviousJobFile; }

bool isThere(const fs::path& path) {
    std::error_code ignored;
    return fs::exists(fs::symlink_status(path, ignored));
}

std::string textOfFile(const fs::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxJobBytes);
    return {bytes.begin(), bytes.end()};
}

std::span<const std::uint8_t> bytesOf(const std::string& text) {
    return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

std::optional<GoodCopy> goodCopyIn(const fs::path& folder) {
    try {
        const fs::path file = previousOf(folder);
        const JobRecord record = job::parse(textOfFile(file), file.string()).record;
        return GoodCopy{file, record.revision, record.changedAt};
    } catch (const InputError&) {
        return std::nullopt;
    }
}

/// The fault told, with what can be done.
[[noreturn]] void damaged(const fs::path& folder, const std::string& fault) {
    const std::optional<GoodCopy> copy = goodCopyIn(folder);
    if (copy)
        throw DamagedJob(
            say("job.damaged-with-copy", fault, kPreviousJobFile, copy->revision, copy->changedAt, folder.string()),
            copy);
    throw DamagedJob(say("job.damaged", fault), std::nullopt);
}

job::Parsed parsedIn(const fs::path& folder) {
    const fs::path file = recordOf(folder);
    std::error_code ignored;
    if (!fs::is_directory(folder, ignored)) throw InputError(message("job.no-such-folder", folder.string()));
    if (!isThere(file)) {
        if (!isThere(previousOf(folder))) throw InputError(message("job.no-job-in-folder", folder.string()));
        damaged(folder, say("job.record-missing", file.string()));
    }
    if (::access(file.c_str(), R_OK) != 0 && errno == EACCES)
        throw InputError(message("job.record-not-readable", file.string()));
    try {
        return job::parse(textOfFile(file), file.string());
    } catch (const job::NewerSchema&) {
        throw;
    } catch (const InputError& error) {
        damaged(folder, error.what());
    }
}

/// Part files that a writer left behind when it was killed. Only under the lock: nobody else is writing then.
void removeLeftOvers(const fs::path& folder, const FileCalls& calls) {
    std::error_code error;
    for (const fs::path& place : {folder, folder / kJobPhotoFolder})
        for (fs::directory_iterator at(place, error), end; !error && at != end; at.increment(error)) {
            const std::string name = at->path().filename().string();
            if (name.ends_with(kPartEnding) && (place != folder || name.starts_with("job.")))
                (void)calls.unlink(at->path().c_str());
        }
}

/// Makes the folder if it is not there; whether it was made.
bool makeFolder(const fs::path& folder, const FileCalls& calls) {
    std::error_code error;
    if (fs::is_directory(folder, error)) return false;
    const fs::path parent = folder.has_parent_path() ? folder.parent_path() : fs::path(".");
    if (!fs::exists(parent, error)) (void)makeFolder(parent, calls);
    if (calls.mkdir(folder.c_str(), 0777) != 0 && errno != EEXIST)
        throw InputError(message("job.folder-not-made", folder.string(), std::generic_category().message(errno)));
    // Its name reaches the disk with the folder above it.
    const int above = calls.open(parent.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC, 0);
    if (above >= 0) {
        (void)calls.fsync(above);
        (void)calls.close(above);
    }
    return true;
}

/// Checked once more before it is written: what cannot be read back is never put in place.
std::string checkedText(const JobRecord& job, const nlohmann::json& former) {
    std::string text = job::textOf(job::documentOf(job), former);
    if (text.size() > static_cast<std::size_t>(kMaxJobBytes))
        throw InputError(message("job.record-too-large", kMaxJobBytes / 1'000'000));
    (void)job::parse(text, std::string(kJobFile));
    return text;
}

}  // namespace

std::string sha256Of(std::span<const std::uint8_t> bytes) {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned length = 0;
    check(EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr) == 1 && length == 32,
          "the hash of a file could not be worked out");
    constexpr std::string_view kDigits = "0123456789abcdef";
    std::string text;
    for (unsigned i = 0; i < length; ++i) {
        text += kDigits[digest[i] >> 4];
        text += kDigits[digest[i] & 15];
    }
    return text;
}

std::string sha256Of(std::string_view text) {
    return sha256Of(std::span(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
}

JobGearSet jobGearSet(const fs::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxRecordBytes);
    const std::string text(bytes.begin(), bytes.end());
    JobGearSet gearSet;
    gearSet.data = parseGearSet(text, file.string());
    try {
        (void)designBlank(completeGearSet(gearSet.data));
    } catch (const InputError& error) {
        throw InputError(message("job.gear-set-unusable", file.string(), error.what()));
    }
    gearSet.fileName = file.filename().string();
    gearSet.document = nlohmann::json::parse(text).dump();
    return gearSet;
}

bool isJobFolder(const fs::path& folder) { return isThere(recordOf(folder)) || isThere(previousOf(folder)); }

JobRecord createJob(const fs::path& folder, JobRecord job, const FileCalls& calls) {
    if (isJobFolder(folder)) throw InputError(message("job.job-there-already", folder.string()));
    job.revision = 1;
    fitCheckLists(job);
    const std::string text = checkedText(job, nullptr);
    const bool made = makeFolder(folder, calls);
    try {
        const FileLock lock(folder / kLockFile, kPatienceMs, calls);
        // Two at once: the second finds the first's.
        if (isJobFolder(folder)) throw InputError(message("job.job-there-already", folder.string()));
        (void)makeFolder(folder / kJobPhotoFolder, calls);
        lock.checkHeld();
        writeFileAtomically(recordOf(folder), bytesOf(text), calls);
    } catch (const InputError&) {
        if (made && !isJobFolder(folder)) {
            std::error_code ignored;
            fs::remove(folder / kJobPhotoFolder, ignored);
            fs::remove(folder / kLockFile, ignored);
            fs::remove(folder, ignored);
        }
        throw;
    }
    return job;
}

OpenedJob openJob(const fs::path& folder) {
    job::Parsed parsed = parsedIn(folder);
    return {std::move(parsed.record), std::move(parsed.warnings), std::move(parsed.upgradedFrom)};
}

JobRecord updateJob(const fs::path& folder, const std::function<void(JobRecord&)>& change,
                    std::optional<std::int64_t> expectedRevision, const FileCalls& calls) {
    if (!isJobFolder(folder)) (void)parsedIn(folder);  // says what is wrong, and leaves no lock file behind
    const FileLock lock(folder / kLockFile, kPatienceMs, calls);
    removeLeftOvers(folder, calls);
    const job::Parsed before = parsedIn(folder);
    if (expectedRevision && *expectedRevision != before.record.revision)
        throw JobConflict(say("job.changed-meanwhile", folder.string(), before.record.revision, *expectedRevision));
    JobRecord job = before.record;
    change(job);
    job.revision = before.record.revision + 1;
    const std::string text = checkedText(job, before.document);
    lock.checkHeld();
    if (before.upgradedFrom) {
        // The file of the older form stays for good, not only until the next change.
        std::string version = *before.upgradedFrom;
        version.erase(0, version.rfind('/') + 1);
        writeFileAtomically(folder / ("job.form-" + version + ".json"), readFile(recordOf(folder), kMaxJobBytes),
                            calls);
    }
    writeFileKeepingFormer(recordOf(folder), previousOf(folder), bytesOf(text), kMaxJobBytes, calls);
    return job;
}

JobRecord restoreJob(const fs::path& folder, const std::string& at, const std::string& by, const FileCalls& calls) {
    if (!isJobFolder(folder)) (void)parsedIn(folder);
    const FileLock lock(folder / kLockFile, kPatienceMs, calls);
    removeLeftOvers(folder, calls);
    std::optional<GoodCopy> copy;
    try {
        (void)parsedIn(folder);
    } catch (const DamagedJob& fault) {
        if (!fault.goodCopy()) throw;
        copy = fault.goodCopy();
    }
    if (!copy) throw InputError(message("job.nothing-to-restore", recordOf(folder).string()));
    const job::Parsed good = job::parse(textOfFile(copy->file), copy->file.string());
    fs::path kept;
    if (isThere(recordOf(folder)))
        for (int i = 1; i <= kMaxDamagedKept && (kept.empty() || isThere(kept)); ++i)
            kept = folder / ("job.damaged-" + std::to_string(i) + ".json");
    JobRecord job = good.record;
    // The damaged record was one revision on; whoever read that one must not take this for it.
    job.revision = copy->revision + 2;
    addRemark(job,
              {at, by,
               kept.empty() ? say("job.restored", copy->revision, copy->changedAt)
                            : say("job.restored-and-kept", copy->revision, copy->changedAt, kept.filename().string())});
    const std::string text = checkedText(job, good.document);
    lock.checkHeld();
    if (kept.empty())
        writeFileAtomically(recordOf(folder), bytesOf(text), calls);
    else
        writeFileKeepingFormer(recordOf(folder), kept, bytesOf(text), kMaxJobBytes * 10, calls);
    return job;
}

JobPhoto keepPhoto(const fs::path& folder, std::span<const std::uint8_t> bytes, const std::string& originalName,
                   const FileCalls& calls) {
    const CleanPhoto clean = cleanPhoto(bytes);
    JobPhoto photo;
    photo.sha256 = sha256Of(bytes);
    photo.file = std::string(kJobPhotoFolder) + "/" + photo.sha256.substr(0, kNameDigits) + "." +
                 std::string(extensionOf(clean.format));
    photo.originalName = fs::path(originalName).filename().string();
    photo.takenAt = clean.notes.takenAt;
    if (clean.width > 0 && clean.height > 0) photo.sizePx = PhotoSize{clean.width, clean.height};
    photo.reencoded = clean.reencoded;
    photo.removed = clean.removed;
    const FileLock lock(folder / kLockFile, kPatienceMs, calls);
    (void)makeFolder(folder / kJobPhotoFolder, calls);
    const fs::path file = folder / photo.file;
    bool same = false;
    if (isThere(file)) {
        try {
            same = readFile(file, DecodeLimits{}.maxFileBytes) == clean.bytes;
        } catch (const InputError&) {
            same = false;  // a broken copy is written anew
        }
    }
    if (!same) writeFileAtomically(file, clean.bytes, calls);
    return photo;
}

}  // namespace shimsight
