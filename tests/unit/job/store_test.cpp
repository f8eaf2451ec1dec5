// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <fcntl.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>

#include "job_fixture.h"
#include "shimsight/photo.h"
#include "support/refusal.h"
#include "support/temp_dir.h"

using namespace shimsight;
using namespace shimsight::test;
using Catch::Matchers::Contains;
namespace fs = std::filesystem;

namespace {

std::string slurp(const fs::path& file) {
    const std::vector<std::uint8_t> bytes = readFile(file, kMaxJobBytes);
    return {bytes.begin(), bytes.end()};
}

void put(const fs::path& file, const std::string& text) { std::ofstream(file, std::ios::binary) << text; }

/// A change that shows in three places whether the record is whole: its revision, its customer and a long remark.
void stamp(JobRecord& job, std::size_t length) {
    job.customer = "revision " + std::to_string(job.revision + 1);
    job.remarks = {{atMinute(0), "Mira", std::string(length, static_cast<char>('a' + (job.revision + 1) % 26))}};
}

/// What is wrong with the folder; "" when it holds one whole record of a revision in [low, high] and a whole one before
/// it.
std::string faultOf(const fs::path& folder, std::int64_t low, std::int64_t high) {
    try {
        const JobRecord job = openJob(folder).record;
        if (job.revision < low || job.revision > high)
            return "revision " + std::to_string(job.revision) + ", wanted " + std::to_string(low) + " to " +
                   std::to_string(high);
        const auto whole = [](const JobRecord& one) {
            if (one.revision == 1) return one.customer == "Motor pool";
            const std::string& text = one.remarks.at(0).text;
            return one.customer == "revision " + std::to_string(one.revision) && !text.empty() &&
                   text.find_first_not_of(static_cast<char>('a' + one.revision % 26)) == std::string::npos;
        };
        if (!whole(job)) return "the record does not fit together";
        if (!fs::exists(folder / kPreviousJobFile)) return job.revision == 1 ? "" : "no former version";
        const JobRecord former = parseJob(slurp(folder / kPreviousJobFile), "previous");
        if (!whole(former)) return "the former version does not fit together";
        if (former.revision > job.revision || former.revision < job.revision - 1)
            return "former version " + std::to_string(former.revision) + " beside " + std::to_string(job.revision);
    } catch (const std::exception& error) {
        return error.what();
    }
    return "";
}

/// Counts the calls; the one whose number is `at` fails with `error`, after `times` of it all go well again.
struct Trouble {
    int calls = 0, at = -1, times = 1, error = ENOSPC;
    bool crash = false;
    bool now() {
        const int number = calls++;
        if (at < 0 || number < at || number >= at + times) return false;
        if (crash) ::_exit(9);
        errno = error;
        return true;
    }
};

FileCalls troubled(Trouble& trouble) {
    const FileCalls& real = systemFileCalls();
    FileCalls calls = real;
    calls.open = [&](const char* path, int flags, unsigned mode) {
        return trouble.now() ? -1 : real.open(path, flags, mode);
    };
    calls.write = [&](int file, const void* bytes, std::size_t count) {
        if (!trouble.now()) return real.write(file, bytes, count);
        // As a disk that runs full: half of it still goes through.
        if (trouble.error == ENOSPC) (void)real.write(file, bytes, count / 2);
        errno = trouble.error;
        return -1L;
    };
    calls.fsync = [&](int file) { return trouble.now() ? -1 : real.fsync(file); };
    calls.close = [&](int file) {
        const bool fails = trouble.now();
        const int result = real.close(file);
        if (fails) errno = trouble.error;
        return fails ? -1 : result;
    };
    calls.rename = [&](const char* from, const char* to) { return trouble.now() ? -1 : real.rename(from, to); };
    calls.link = [&](const char* from, const char* to) { return trouble.now() ? -1 : real.link(from, to); };
    calls.unlink = [&](const char* path) { return trouble.now() ? -1 : real.unlink(path); };
    calls.mkdir = [&](const char* path, unsigned mode) { return trouble.now() ? -1 : real.mkdir(path, mode); };
    calls.flock = [&](int file, int operation) { return trouble.now() ? -1 : real.flock(file, operation); };
    return calls;
}

/// Runs `what` in a process of its own; its answer, or how it ended.
template <typename Do>
std::string inChild(Do what) {
    int ends[2];
    if (::pipe(ends) != 0) return "no pipe";
    const pid_t child = ::fork();
    if (child == 0) {
        ::close(ends[0]);
        std::string answer;
        try {
            answer = what();
        } catch (const std::exception& error) {
            answer = error.what();
        }
        (void)!::write(ends[1], answer.data(), answer.size());
        ::_exit(0);
    }
    ::close(ends[1]);
    std::string answer;
    char buffer[4096];
    for (ssize_t got = 0; (got = ::read(ends[0], buffer, sizeof buffer)) > 0;)
        answer.append(buffer, static_cast<std::size_t>(got));
    ::close(ends[0]);
    int status = 0;
    ::waitpid(child, &status, 0);
    if (WIFSIGNALED(status)) return "killed by signal " + std::to_string(WTERMSIG(status));
    if (WEXITSTATUS(status) != 0) return "status " + std::to_string(WEXITSTATUS(status));
    return answer;
}

std::size_t partsIn(const fs::path& folder) {
    std::size_t count = 0;
    for (const auto& entry : fs::recursive_directory_iterator(folder)) count += entry.path().extension() == kPartEnding;
    return count;
}

std::vector<std::uint8_t> smallPhoto(std::uint8_t seed) {
    Picture picture{64, 48, {}};
    for (int i = 0; i < 3 * 64 * 48; ++i) picture.rgb.push_back(static_cast<std::uint8_t>(i * 7 + seed));
    return encodeJpeg(picture, 90);
}

}  // namespace

TEST_CASE("a job is made once, changed, and its former version kept") {
    const TempDir dir;
    const fs::path folder = dir / "jobs" / "van 12";
    CHECK_THAT(refusalOf([&] { (void)openJob(folder); }), Contains("no such folder"));
    CHECK(createJob(folder, labJob()).revision == 1);
    CHECK(isJobFolder(folder));
    CHECK_FALSE(isJobFolder(dir.path()));
    CHECK_THAT(refusalOf([&] { (void)openJob(dir.path()); }), Contains("no job in this folder"));
    CHECK_THAT(refusalOf([&] { (void)updateJob(dir.path(), [](JobRecord&) {}); }), Contains("no job in this folder"));
    CHECK_FALSE(fs::exists(dir / "job.lock"));
    CHECK_THAT(refusalOf([&] { (void)createJob(folder, labJob()); }), Contains("a job in this folder already"));
    CHECK_FALSE(fs::exists(folder / kPreviousJobFile));
    for (int i = 2; i < 6; ++i) {
        CHECK(updateJob(folder, [](JobRecord& job) { stamp(job, 100); }).revision == i);
        CHECK(faultOf(folder, i, i) == "");
        CHECK(parseJob(slurp(folder / kPreviousJobFile), "").revision == i - 1);
    }
    CHECK(partsIn(folder) == 0);
}

TEST_CASE("a writer that expected another revision is refused, and a failing change changes nothing") {
    const TempDir dir;
    (void)createJob(dir / "j", labJob());
    (void)updateJob(
        dir / "j", [](JobRecord& job) { stamp(job, 10); }, 1);
    CHECK_THROWS_AS(updateJob(
                        dir / "j", [](JobRecord& job) { stamp(job, 10); }, 1),
                    JobConflict);
    const std::string before = slurp(dir / "j" / kJobFile);
    CHECK_THROWS_AS(updateJob(dir / "j", [](JobRecord& job) { (void)addBacklash(job, {}); }), InputError);
    CHECK_THROWS_AS(updateJob(dir / "j", [](JobRecord& job) { job.createdAt = "never"; }), InputError);
    CHECK(slurp(dir / "j" / kJobFile) == before);
    CHECK(faultOf(dir / "j", 2, 2) == "");
}

TEST_CASE("fields that this program does not know are kept") {
    const TempDir dir;
    (void)createJob(dir / "j", fullJob());
    nlohmann::json document = nlohmann::json::parse(slurp(dir / "j" / kJobFile));
    document["weather"] = "rain";
    document["trials"][0]["lamp"] = {{"kind", "tube"}};
    document["trials"][0]["reading"]["photographer"] = "Jon";
    put(dir / "j" / kJobFile, document.dump());
    (void)updateJob(dir / "j", [](JobRecord& job) {
        (void)addRunout(job, {stampAt(80), RunoutPlace::RingGear, 0.05});
    });
    document = nlohmann::json::parse(slurp(dir / "j" / kJobFile));
    CHECK(document["weather"] == "rain");
    CHECK(document["trials"][0]["lamp"]["kind"] == "tube");
    CHECK(document["trials"][0]["reading"]["photographer"] == "Jon");
    CHECK(document["runout"].size() == 3);
}

TEST_CASE("a damaged record is reported, and its good copy brought back") {
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    CHECK_THAT(refusalOf([&] { (void)restoreJob(folder, atMinute(9), "Mira"); }), Contains("is whole"));
    put(folder / kJobFile, "{\n\"schema\": ");
    CHECK_THAT(refusalOf([&] { (void)openJob(folder); }), Contains("line 2") && Contains("no good copy"));
    CHECK_THAT(refusalOf([&] { (void)restoreJob(folder, atMinute(9), "Mira"); }), Contains("no good copy"));
    fs::remove_all(folder);

    (void)createJob(folder, labJob());
    (void)updateJob(folder, [](JobRecord& job) { stamp(job, 50); });
    (void)updateJob(folder, [](JobRecord& job) { stamp(job, 50); });
    const std::string whole = slurp(folder / kJobFile);
    for (const bool missing : {false, true}) {
        const std::int64_t copy = parseJob(slurp(folder / kPreviousJobFile), "").revision;
        if (missing)
            fs::remove(folder / kJobFile);
        else
            put(folder / kJobFile, whole.substr(0, whole.size() / 2));
        const std::string fault = refusalOf([&] { (void)openJob(folder); });
        CHECK_THAT(fault, Contains(missing ? "is missing" : ", column ") &&
                              Contains("good copy, revision " + std::to_string(copy)) &&
                              Contains("shimsight job restore"));
        CHECK_THROWS_AS(updateJob(folder, [](JobRecord&) {}), DamagedJob);
        const JobRecord back = restoreJob(folder, atMinute(9), "Mira");
        CHECK(back.revision == copy + 2);
        CHECK(back.customer == "revision " + std::to_string(copy));
        CHECK_THAT(back.remarks.back().text, Contains("was damaged"));
        CHECK(openJob(folder).record.revision == copy + 2);
    }
    CHECK(slurp(folder / "job.damaged-1.json") == whole.substr(0, whole.size() / 2));
}

TEST_CASE("an older record is written anew with the next change, and its file kept for good") {
    const TempDir dir;
    const std::string draft =
        R"({"schema": "shimsight/job/0", "created_at": "2026-02-01T09:00:00Z", "new_bearings": true, "axle": "Van 3",
            "gear_set": {"schema": "shimsight/gear-set/1", "teeth": {"pinion": 11, "ring": 43}, "ring_gear_diameter_mm": 222, "offset_mm": 36}})";
    fs::create_directory(dir / "j");
    put(dir / "j" / kJobFile, draft);
    const OpenedJob opened = openJob(dir / "j");
    CHECK(opened.upgradedFrom == "shimsight/job/0");
    CHECK_THAT(opened.warnings.at(0), Contains("older form"));
    CHECK(slurp(dir / "j" / kJobFile) == draft);
    for (int i = 0; i < 2; ++i) (void)updateJob(dir / "j", [](JobRecord& job) { stamp(job, 9); });
    CHECK_FALSE(openJob(dir / "j").upgradedFrom);
    CHECK(slurp(dir / "j" / "job.form-0.json") == draft);
    put(dir / "j" / kJobFile, R"({"schema": "shimsight/job/7"})");
    const std::string fault = refusalOf([&] { (void)updateJob(dir / "j", [](JobRecord&) {}); });
    CHECK_THAT(fault, Contains("use a newer Shimsight") && !Contains("damaged"));
    CHECK(slurp(dir / "j" / kJobFile) == R"({"schema": "shimsight/job/7"})");
}

TEST_CASE("each system call fails in its turn: the old or the new record stays whole") {
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    (void)updateJob(folder, [](JobRecord& job) { stamp(job, 3000); });
    int refused = 0, unconfirmed = 0;
    bool reached = true;
    for (int at = 0; reached; ++at) {
        // Once alone, and from then on for good; a full disk and a broken one.
        for (const int times : {1, 1'000'000}) {
            for (const int error : {ENOSPC, EIO}) {
                const std::int64_t before = openJob(folder).record.revision;
                Trouble trouble;
                trouble.at = at, trouble.times = times, trouble.error = error;
                const FileCalls calls = troubled(trouble);
                bool done = false;
                try {
                    (void)updateJob(
                        folder, [](JobRecord& job) { stamp(job, 3000); }, {}, calls);
                    done = true;
                } catch (const UnconfirmedWrite&) {
                    done = true;
                    ++unconfirmed;
                } catch (const InputError& fault) {
                    INFO(fault.what());
                    CHECK(std::string(fault.what()).ends_with("."));
                    ++refused;
                }
                INFO("call " << at << ", times " << times << ", error " << error);
                const std::int64_t wanted = before + (done ? 1 : 0);
                CHECK(faultOf(folder, wanted, wanted) == "");
                if (times == 1) reached = trouble.calls > at;
            }
        }
    }
    CHECK(refused > 20);
    CHECK(unconfirmed > 0);
    (void)updateJob(folder, [](JobRecord& job) { stamp(job, 3000); });
    CHECK(partsIn(folder) == 0);
}

TEST_CASE("each system call fails in its turn while a job is made or a photo kept") {
    const std::vector<std::uint8_t> photo = smallPhoto(1);
    bool reached = true;
    for (int at = 0; reached; ++at) {
        const TempDir dir;
        Trouble trouble;
        trouble.at = at, trouble.times = 1'000'000;
        const FileCalls calls = troubled(trouble);
        const std::string fault = refusalOf([&] { (void)createJob(dir / "j", labJob(), calls); });
        reached = trouble.calls > at;
        if (isJobFolder(dir / "j"))
            CHECK(faultOf(dir / "j", 1, 1) == "");
        else
            CHECK(fault != "");
    }
    const TempDir dir;
    (void)createJob(dir / "j", labJob());
    reached = true;
    for (int at = 0; reached; ++at) {
        Trouble trouble;
        trouble.at = at, trouble.times = 1'000'000;
        const FileCalls calls = troubled(trouble);
        (void)refusalOf([&] { (void)keepPhoto(dir / "j", photo, "a.jpg", calls); });
        reached = trouble.calls > at;
        for (const auto& entry : fs::directory_iterator(dir / "j" / kJobPhotoFolder)) {
            if (entry.path().extension() != kPartEnding) CHECK(loadPhoto(entry.path()).fullWidth == 64);
            fs::remove(entry.path());
        }
    }
}

TEST_CASE("a process that ends at any system call leaves the old or the new record whole") {
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    int crashes = 0;
    for (int at = 0; at < 200; ++at) {
        const std::int64_t before = openJob(folder).record.revision;
        const std::string end = inChild([&] {
            Trouble trouble;
            trouble.at = at, trouble.crash = true;
            const FileCalls calls = troubled(trouble);
            (void)updateJob(
                folder, [](JobRecord& job) { stamp(job, 3000); }, {}, calls);
            return std::string("done");
        });
        CHECK(faultOf(folder, before, before + 1) == "");
        if (end == "done") break;
        CHECK(end == "status 9");
        ++crashes;
    }
    CHECK(crashes > 8);
    (void)updateJob(folder, [](JobRecord& job) { stamp(job, 10); });
    CHECK(partsIn(folder) == 0);
}

TEST_CASE("where a file can have one name only, the former version is copied") {
    const TempDir dir;
    (void)createJob(dir / "j", labJob());
    FileCalls calls = systemFileCalls();
    calls.link = [](const char*, const char*) {
        errno = EPERM;
        return -1;
    };
    for (int i = 2; i < 5; ++i) {
        (void)updateJob(
            dir / "j", [](JobRecord& job) { stamp(job, 10); }, {}, calls);
        CHECK(faultOf(dir / "j", i, i) == "");
    }
}

// The number of kills: SHIMSIGHT_KILLS, 300 otherwise. The result of thousands is in DEVELOPERS.md.
TEST_CASE("a writing process is killed at random moments, and nothing is lost") {
    const char* const wish = std::getenv("SHIMSIGHT_KILLS");
    const int kills = wish != nullptr ? std::atoi(wish) : 300;
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    Random random(20260302);
    std::int64_t confirmed = 1;
    int betweenWrites = 0, unconfirmedSeen = 0, partsSeen = 0;
    for (int i = 0; i < kills; ++i) {
        int ends[2];
        REQUIRE(::pipe(ends) == 0);
        const auto seed = static_cast<std::uint64_t>(i);
        const pid_t child = ::fork();
        if (child == 0) {
            ::close(ends[0]);
            Random lengths(seed);
            for (int k = 0;; ++k) {
                const auto length = static_cast<std::size_t>(lengths.integer(1, 4000));
                const std::int64_t revision = updateJob(folder, [&](JobRecord& job) { stamp(job, length); }).revision;
                if (::write(ends[1], &revision, sizeof revision) != sizeof revision) ::_exit(1);
                if (k % 3 == 0)
                    (void)keepPhoto(folder, smallPhoto(static_cast<std::uint8_t>(lengths.integer(0, 255))), "a.jpg");
            }
        }
        ::close(ends[1]);
        // Every other time the process is known to be writing when the clock starts.
        bool any = false;
        if (i % 2 == 0) {
            REQUIRE(::read(ends[0], &confirmed, sizeof confirmed) == sizeof confirmed);
            any = true;
        }
        ::usleep(static_cast<useconds_t>(random.integer(0, 20'000)));
        ::kill(child, SIGKILL);
        int status = 0;
        ::waitpid(child, &status, 0);
        REQUIRE(WIFSIGNALED(status));
        for (std::int64_t revision = 0; ::read(ends[0], &revision, sizeof revision) == sizeof revision; any = true)
            confirmed = revision;
        ::close(ends[0]);
        betweenWrites += any ? 0 : 1;
        partsSeen += partsIn(folder) > 0 ? 1 : 0;
        // What was confirmed is there; at most one more was written and not yet confirmed.
        const std::string fault = faultOf(folder, confirmed, confirmed + 1);
        INFO("kill " << i << " after revision " << confirmed);
        REQUIRE(fault == "");
        const std::int64_t found = openJob(folder).record.revision;
        unconfirmedSeen += found > confirmed ? 1 : 0;
        confirmed = found;
    }
    for (const auto& entry : fs::directory_iterator(folder / kJobPhotoFolder))
        if (entry.path().extension() != kPartEnding) CHECK(loadPhoto(entry.path()).fullWidth == 64);
    (void)updateJob(folder, [](JobRecord& job) { stamp(job, 10); });
    CHECK(partsIn(folder) == 0);
    std::cout << kills << " kills, " << confirmed << " writes; " << partsSeen << " kills left a part file, "
              << unconfirmedSeen << " hit between the write and its confirmation, " << betweenWrites
              << " came before the first write\n";
}

namespace {

/// On a busy machine a turn may take longer than an update waits for: it is refused then, and tried again.
void writeWhenItsTurnComes(const fs::path& folder, int writer, int number) {
    while (true) {
        try {
            (void)updateJob(folder, [&](JobRecord& job) {
                JobStamp one = stampAt(number);
                one.note = std::to_string(writer) + "/" + std::to_string(number);
                (void)addPreload(job, {one, 1.7, {}, false});
            });
            return;
        } catch (const InputError& error) {
            if (error.sentence().id != "core.locked") throw;
        }
    }
}

}  // namespace

TEST_CASE("many writers at once: no entry is lost, none is doubled") {
    constexpr int kWriters = 8, kEach = 12;
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    std::vector<pid_t> children;
    for (int writer = 0; writer < kWriters; ++writer) {
        const pid_t child = ::fork();
        if (child == 0) {
            int status = 0;
            try {
                for (int i = 0; i < kEach; ++i) writeWhenItsTurnComes(folder, writer, i);
            } catch (...) {
                status = 1;
            }
            ::_exit(status);
        }
        children.push_back(child);
    }
    for (const pid_t child : children) {
        int status = 0;
        ::waitpid(child, &status, 0);
        CHECK(status == 0);
    }
    const JobRecord job = openJob(folder).record;
    CHECK(job.revision == 1 + kWriters * kEach);
    std::vector<std::string> notes;
    for (const PreloadEntry& entry : job.preloads) notes.push_back(entry.stamp.note);
    std::sort(notes.begin(), notes.end());
    CHECK(notes.size() == kWriters * kEach);
    CHECK(std::unique(notes.begin(), notes.end()) == notes.end());
}

TEST_CASE("a writer whose lock was deleted leaves the record to whoever came after it") {
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    const auto addLine = [](const std::string& text) {
        return [text](JobRecord& job) { addRemark(job, {atMinute(1), "Mira", text}); };
    };
    // While this one works somebody deletes the lock file, and another process writes.
    std::string other;
    const std::string fault = refusalOf([&] {
        (void)updateJob(folder, [&](JobRecord& job) {
            fs::remove(folder / "job.lock");
            other = inChild([&] {
                (void)updateJob(folder, addLine("from the other computer"));
                return std::string("written");
            });
            addLine("from this one")(job);
        });
    });
    CHECK(other == "written");
    CHECK_THAT(fault, Contains("somebody deleted or replaced"));
    const JobRecord job = openJob(folder).record;
    CHECK(job.revision == 2);
    REQUIRE(job.remarks.size() == 1);
    CHECK(job.remarks.front().text == "from the other computer");
    CHECK(updateJob(folder, addLine("from this one")).remarks.size() == 2);
}

TEST_CASE("a job on a share whose locks stay on one computer is read, and not changed") {
    const TempDir dir;
    (void)createJob(dir / "j", labJob());
    FileCalls calls = systemFileCalls();
    calls.locksReachOthers = [](int) { return false; };
    const auto change = [](JobRecord& job) { stamp(job, 10); };
    CHECK_THAT(refusalOf([&] { (void)updateJob(dir / "j", change, {}, calls); }), Contains("do not reach"));
    CHECK_THAT(refusalOf([&] { (void)createJob(dir / "k", labJob(), calls); }), Contains("do not reach"));
    CHECK(openJob(dir / "j").record.revision == 1);
    CHECK_FALSE(fs::exists(dir / "k"));
}

TEST_CASE("a file size limit of the system is a plain refusal") {
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    const std::string answer = inChild([&] {
        ::signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{4096, 4096};
        if (::setrlimit(RLIMIT_FSIZE, &limit) != 0) return std::string("no limit");
        return refusalOf([&] { (void)updateJob(folder, [](JobRecord& job) { stamp(job, 3000); }); });
    });
    CHECK_THAT(answer, Contains("job.json: the file cannot be written (File too large)"));
    CHECK(faultOf(folder, 1, 1) == "");
    CHECK(partsIn(folder) == 0);
}

TEST_CASE("a file system that is really full") {
    const TempDir dir;
    const std::string answer = inChild([&]() -> std::string {
        // A small disk of memory in a view of the file system that only this process has.
        if (::unshare(CLONE_NEWNS) != 0) return std::string("skip: no view of its own (") + std::strerror(errno) + ")";
        (void)::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr);
        if (::mount("tmpfs", dir.path().c_str(), "tmpfs", 0, "size=256k") != 0)
            return std::string("skip: no small disk (") + std::strerror(errno) + ")";
        const fs::path folder = dir / "j";
        (void)createJob(folder, labJob());
        std::int64_t revision = 1;
        int full = 0;
        std::string refusal;
        for (int round = 0; round < 40; ++round) {
            // A file fills the disk up to a different rest each time; then it goes again.
            (void)!std::system(("head -c 1000000 /dev/zero > " + (dir / "fill").string() +
                                " 2>/dev/null; truncate -s -" + std::to_string(round * 1024) + " " +
                                (dir / "fill").string())
                                   .c_str());
            for (int i = 0; i < 3; ++i) {
                const std::string fault =
                    refusalOf([&] { revision = updateJob(folder, [](JobRecord& job) { stamp(job, 3000); }).revision; });
                if (!fault.empty()) {
                    ++full;
                    refusal = fault;
                }
                if (const std::string wrong = faultOf(folder, revision, revision); !wrong.empty())
                    return "round " + std::to_string(round) + ": " + wrong;
                (void)refusalOf(
                    [&] { (void)keepPhoto(folder, smallPhoto(static_cast<std::uint8_t>(round)), "a.jpg"); });
            }
            fs::remove(dir / "fill");
            revision = updateJob(folder, [](JobRecord& job) { stamp(job, 10); }).revision;
        }
        if (partsIn(folder) != 0) return "a part file is left";
        for (const auto& entry : fs::directory_iterator(folder / kJobPhotoFolder)) (void)loadPhoto(entry.path());
        if (full < 20 || revision < 45)
            return "refused " + std::to_string(full) + " times, revision " + std::to_string(revision);
        if (refusal.find("No space left") == std::string::npos) return refusal;
        return "good: " + std::to_string(full) + " writes refused, " + std::to_string(revision) + " written";
    });
    std::cout << "full disk: " << answer << "\n";
    if (answer.starts_with("skip: "))
        WARN(answer);
    else
        CHECK_THAT(answer, Catch::StartsWith("good: "));
}

TEST_CASE("a photo is kept under a safe name, once, and the original is left alone") {
    const TempDir dir;
    const fs::path folder = dir / "j";
    (void)createJob(folder, labJob());
    const std::vector<std::uint8_t> bytes = smallPhoto(3);
    const JobPhoto photo = keepPhoto(folder, bytes, "../../evil name;rm.jpg");
    CHECK(photo.originalName == "evil name;rm.jpg");
    CHECK(photo.file == "photos/" + photo.sha256.substr(0, 16) + ".jpg");
    CHECK(keepPhoto(folder, bytes, "other.jpg").file == photo.file);
    CHECK(std::distance(fs::directory_iterator(folder / kJobPhotoFolder), fs::directory_iterator()) == 1);
    // A copy that was damaged is written anew.
    put(folder / photo.file, "rubbish");
    CHECK(keepPhoto(folder, bytes, "other.jpg").file == photo.file);
    CHECK(loadPhoto(folder / photo.file).fullWidth == 64);
    CHECK_THAT(refusalOf([&] {
                   (void)keepPhoto(folder, std::vector<std::uint8_t>{'h', 'i'}, "x");
               }),
               Contains("not a JPEG"));
    // FIPS 180-4, the example "abc".
    CHECK(sha256Of(std::vector<std::uint8_t>{'a', 'b', 'c'}) ==
          "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}
