// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/review.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <set>

#include "review/judge.h"
#include "review/merge.h"
#include "review/plan.h"
#include "review/store.h"
#include "shimsight/files.h"
#include "shimsight/photo.h"
#include "shimsight/review_words.h"
#include "support/temp_dir.h"

using namespace shimsight;

namespace {

std::string sha256OfText(std::string_view text) {
    return sha256Of(std::span(reinterpret_cast<const std::uint8_t*>(text.data()), text.size()));
}

namespace fs = std::filesystem;
using Bytes = std::vector<std::uint8_t>;

void write(const fs::path& file, const Bytes& bytes) {
    fs::create_directories(file.parent_path());
    writeFileAtomically(file, bytes);
}
void write(const fs::path& file, const std::string& text) { write(file, Bytes(text.begin(), text.end())); }

/// A grey JPEG with the time that a camera would write, `when` as "YYYY:MM:DD hh:mm:ss"; empty: no time.
Bytes jpeg(const std::string& when, std::uint8_t grey = 120) {
    Picture picture{48, 32, Bytes(48 * 32 * 3, grey)};
    Bytes plain = encodeJpeg(picture, 80);
    if (when.empty()) return plain;
    Bytes block{'E', 'x', 'i', 'f', 0, 0, 'I', 'I', 42, 0, 8, 0, 0, 0};
    const auto number = [&](std::uint32_t value, int length) {
        for (int i = 0; i < length; ++i) block.push_back(static_cast<std::uint8_t>(value >> (8 * i)));
    };
    const auto entry = [&](std::uint32_t tag, std::uint32_t type, std::uint32_t count, std::uint32_t value) {
        number(1, 2), number(tag, 2), number(type, 2), number(count, 4), number(value, 4), number(0, 4);
    };
    entry(0x8769, 4, 1, 26);
    entry(0x9003, 2, 20, 44);
    block.insert(block.end(), when.begin(), when.end());
    block.push_back(0);
    Bytes file{0xFF, 0xD8, 0xFF, 0xE1, 0, static_cast<std::uint8_t>(block.size() + 2)};
    file.insert(file.end(), block.begin(), block.end());
    file.insert(file.end(), plain.begin() + 2, plain.end());
    return file;
}

Pattern patternAt(double toeHeel, double rootTip) {
    Pattern pattern;
    pattern.toeHeel = toeHeel;
    pattern.rootTip = rootTip;
    pattern.sigmaToeHeel = pattern.sigmaRootTip = 0.01;
    pattern.length = 0.6;
    pattern.height = 0.5;
    pattern.area = 0.3;
    pattern.teeth = 4;
    return pattern;
}

KeptSide sideAt(double toeHeel, double rootTip) {
    KeptSide side{patternAt(toeHeel, rootTip), {}};
    for (int y = 50; y < 80; ++y)
        for (int x = 100; x < 180; ++x) side.map.at(x, y) = 255;
    return side;
}

Advice adviceTo(double shimMm, double backlashMm) {
    Advice advice;
    advice.verdict = Verdict::Change;
    advice.shim = {PinionShim::BehindPinionHead, true, shimMm, shimMm, {}};
    advice.changesNothing = false;
    advice.certainty = Certainty::Sure;
    advice.backlashTargetMm = backlashMm;
    return advice;
}

/// A job with text in it that must not come through as markup, formula or terminal code.
ReviewedJob hostileJob() {
    ReviewedJob job;
    job.name = "jobs/<img src=x onerror=alert(1)>";
    job.hasRecord = true;
    job.groupedBy = GroupedBy::Record;
    job.gearSetName = "\"quoted\" & <b>bold</b>";
    job.axle = "<script>alert('axle')</script>";
    job.customer = "=HYPERLINK(\"https://example.invalid\")";
    job.setUpBy = "A\x1B[31mB";
    job.next = "</section></main>";
    for (int k = 1; k <= 2; ++k) {
        ReviewedTrial trial;
        trial.id = "t" + std::to_string(k);
        trial.label = std::to_string(k);
        KeptPhoto photo;
        photo.file = job.name + "/photos/\"><script>x</script>.jpg";
        photo.originalName = "=cmd\",\"x.jpg";
        photo.flanks = {4, 0};
        photo.thumbnail = photo.picture = jpeg("");
        photo.width = 48;
        photo.height = 32;
        trial.kept.photos.push_back(photo);
        trial.kept.sides[0] = sideAt(0.7 - 0.1 * k, 0.6);
        trial.advice = adviceTo(0.1, 0.2);
        trial.advice->because = {"<i>because</i>"};
        trial.findings.push_back({FindingKind::Order, "<u>late</u> & more", true});
        trial.changed = "=1+1";
        job.trials.push_back(trial);
    }
    job.trials[0].next = DoneNext{-0.1, 0.2, "took out 0.004 in (0.10 mm)", "<note>", DoneAs::OtherWayRound};
    job.trials[0].helped = Helped::No;
    job.leftOut.push_back({"<left>", "out & away"});
    return job;
}

std::string textOf(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

TEST_CASE("names are sorted as a person sorts them", "[review]") {
    const std::vector<std::string> names{"IMG_2.jpg", "IMG_10.jpg", "IMG_010a.jpg", "b.jpg", "b2.jpg"};
    std::vector<std::string> sorted{names[1], names[4], names[3], names[0], names[2]};
    std::sort(sorted.begin(), sorted.end(), review::naturalLess);
    CHECK(sorted == names);
    for (const std::string& a : names) CHECK_FALSE(review::naturalLess(a, a));
    CHECK((review::naturalLess("01", "1") != review::naturalLess("1", "01")));
}

TEST_CASE("minutes between camera times", "[review]") {
    CHECK(review::minutesBetween("2026-02-28 23:55:00", "2026-03-01 00:05:30") == Approx(10.5));
    CHECK_FALSE(review::minutesBetween("2026-02-30 00:00:00", "2026-03-01 00:00:00"));
    CHECK_FALSE(review::minutesBetween("yesterday", "2026-03-01 00:00:00"));
}

TEST_CASE("a side that comes again after the other one begins a trial", "[review]") {
    using S = std::optional<Side>;
    const S d = Side::Drive, c = Side::Coast, none;
    const auto starts = [](std::vector<S> sides) { return review::trialStarts(sides); };
    using V = std::vector<std::size_t>;
    CHECK(starts({}) == V{});
    CHECK(starts({d, c}) == V{0});
    CHECK(starts({d, d, c, c}) == V{0});
    CHECK(starts({d, c, d, c}) == V{0, 2});
    CHECK(starts({c, d, d, c, c, d}) == V{0, 3});
    CHECK(starts({none, d, none, c, none, d}) == V{0, 5});
    CHECK(starts({none, none}) == V{0});
    CHECK(starts(std::vector<S>(50, d)).size() == 3);  // never more photos than a trial can have
}

TEST_CASE("folders are walked, times part the trials, what is no photo is told", "[review]") {
    const test::TempDir dir;
    const fs::path a = dir / "a", b = dir / "a" / "deep" / "b";
    write(a / "late.jpg", jpeg("2026:03:02 10:30:00"));
    write(a / "first.jpg", jpeg("2026:03:02 10:00:00"));
    write(a / "second.jpg", jpeg("2026:03:02 10:09:59"));
    write(a / "untimed.png", encodePng(Picture{4, 4, Bytes(48, 9)}));
    write(a / "notes.txt", "no photo");
    write(a / "looks-like-one.JPG", "no photo either");
    write(a / ".hidden.jpg", jpeg(""));
    write(b / "x10.jpg", jpeg(""));
    write(b / "x9.jpg", jpeg(""));
    write(dir / "a" / ".git" / "y.jpg", jpeg(""));
    fs::create_directory_symlink(dir.path(), b / "loop");

    const ReviewPlan plan = planReview({a, a / "deep" / "..", a});
    REQUIRE(plan.units.size() == 4);
    CHECK(plan.units[0].photos == std::vector<std::string>{"first.jpg", "second.jpg"});
    CHECK(plan.units[0].byTime);
    CHECK(plan.units[1].photos == std::vector<std::string>{"late.jpg"});
    CHECK(plan.units[2].photos == std::vector<std::string>{"untimed.png"});
    CHECK_FALSE(plan.units[2].byTime);
    CHECK(plan.units[3].photos == std::vector<std::string>{"x9.jpg", "x10.jpg"});
    CHECK(plan.photoCount() == 6);
    CHECK(plan.otherFiles == 1);
    REQUIRE(plan.leftOut.size() == 1);
    CHECK(plan.leftOut[0].file == (a / "looks-like-one.JPG").string());

    CHECK_THROWS_AS(planReview({dir / "missing"}), InputError);
    CHECK_THROWS_AS(planReview({a / "notes.txt"}), InputError);
}

TEST_CASE("the parts of a plan are the whole plan, each unit once", "[review]") {
    ReviewPlan plan;
    for (int k = 0; k < 7; ++k) {
        plan.units.emplace_back();
        plan.units.back().folder = std::to_string(k);
    }
    plan.leftOut.push_back({"x", "y"});
    std::multiset<std::string> seen;
    std::size_t leftOut = 0;
    for (int part = 1; part <= 3; ++part) {
        const ReviewPlan mine = partOf(plan, part, 3);
        for (const ReviewUnit& unit : mine.units) seen.insert(unit.folder.string());
        leftOut += mine.leftOut.size();
    }
    CHECK(seen == std::multiset<std::string>{"0", "1", "2", "3", "4", "5", "6"});
    CHECK(leftOut == 1);
    CHECK(partOf(plan, 9, 9).units.empty());
}

TEST_CASE("known sums", "[review]") {
    // FIPS 180-2, appendix B.1.
    CHECK(sha256OfText("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

namespace {

/// A flank read at `u` of its length; found on the tooth at this place.
MeasuredFlank flankAt(Side side, double u, int tooth) {
    MeasuredFlank flank;
    flank.side = side;
    flank.rectified.side = side;
    flank.rectified.outline.side = side;
    flank.rectified.outline.rootEdge = {{1.25, 2.5}};
    flank.rectified.gridPx = {{3.125, 4.0625}};
    flank.rectified.found = true;
    for (int y = 60; y < 68; ++y)
        for (int x = 0; x < kMapWidth; ++x)
            if (std::abs((x + 0.5) / kMapWidth - u) < 0.2) flank.contact.map.at(x, y) = 255;
    flank.contact.pattern = measurePattern(flank.contact.map).value();
    flank.contact.pattern.sigmaToeHeel = flank.contact.pattern.sigmaRootTip = 0.012;
    flank.contact.markingCertainty = 0.99;
    flank.contact.flankConfidence = 0.8;
    flank.contact.compound = {210, 190, 40};
    flank.tooth = tooth;
    return flank;
}

/// A photo that was read, whose file is gone.
KeptPhotos readOf(const std::vector<MeasuredFlank>& flanks) {
    KeptPhotos read;
    read.photos.emplace_back();
    read.photos[0].file = "gone.jpg";
    read.photos[0].picture = {1, 2, 3};
    read.measured.emplace_back();
    read.measured[0].file = "gone.jpg";
    read.measured[0].found = true;
    read.measured[0].flanks = flanks;
    for (const MeasuredFlank& flank : flanks) ++read.photos[0].flanks[index(flank.side)];
    return read;
}

}  // namespace

TEST_CASE("what is kept comes back to the last digit, and nothing else does", "[review]") {
    const test::TempDir dir;
    KeptPhotos read;
    KeptPhoto photo;
    photo.sha256 = "ab";
    photo.takenAt = "2026-03-02 10:00:00";
    photo.refused = Refused{Refusal::NotRolled, "reason", "what to do"};
    photo.flanks = {3, 1};
    photo.notCounted = 2;
    photo.leftOut = "8 without compound";
    photo.cut = CutEvidence{0.1234567890123, "tapers"};
    photo.width = 48, photo.height = 32;
    photo.picture = jpeg(""), photo.thumbnail = {1, 2, 3};
    read.photos = {photo};
    read.sides[1] = sideAt(1.0 / 3, 2.0 / 3);
    read.sides[1]->pattern.runsOff.tip = true;
    read.sides[1]->pattern.tiltDeg = -1e-17;

    read.measured.emplace_back();
    read.measured[0].found = true;
    read.measured[0].hand = Hand::Left;
    read.measured[0].setFit = SetFit{Hand::Left, 41.125, 0, 0};
    read.measured[0].flanks = {flankAt(Side::Coast, 1.0 / 3, -2)};
    read.measured[0].flanks[0].used = false;
    RefusedFlank bare;
    bare.refused = bareFlank();
    bare.paintedLogOdds = -2.75;
    read.measured[0].refusedFlanks = {bare};

    const std::string key = sha256OfText("key");
    CHECK_FALSE(review::loadRead(dir.path(), key));
    review::keepRead(dir.path(), key, read);
    const auto back = review::loadRead(dir.path(), key);
    REQUIRE(back);
    REQUIRE(back->photos.size() == 1);
    CHECK(back->photos[0].refused->why == Refusal::NotRolled);
    CHECK(back->photos[0].flanks == photo.flanks);
    CHECK(back->photos[0].cut->chanceFaceMilled == photo.cut->chanceFaceMilled);
    CHECK(back->photos[0].picture == photo.picture);
    CHECK(back->photos[0].takenAt == photo.takenAt);
    CHECK_FALSE(back->sides[0]);
    REQUIRE(back->sides[1]);
    CHECK(back->sides[1]->pattern.toeHeel == 1.0 / 3);
    CHECK(back->sides[1]->pattern.tiltDeg == -1e-17);
    CHECK(back->sides[1]->pattern.runsOff.tip);
    CHECK(back->sides[1]->map.contact == read.sides[1]->map.contact);
    REQUIRE(back->measured.size() == 1);
    const MeasuredPhoto &said = back->measured[0], &kept = read.measured[0];
    CHECK(said.found);
    CHECK(said.hand == Hand::Left);
    CHECK(said.setFit->ringTeeth == 41.125);
    REQUIRE(said.flanks.size() == 1);
    const MeasuredFlank &flank = said.flanks[0], &own = kept.flanks[0];
    CHECK(flank.side == Side::Coast);
    CHECK(flank.tooth == -2);
    CHECK_FALSE(flank.used);
    CHECK(flank.contact.pattern.toeHeel == own.contact.pattern.toeHeel);
    CHECK(flank.contact.map.contact == own.contact.map.contact);
    CHECK(flank.contact.flankConfidence == own.contact.flankConfidence);
    CHECK(flank.contact.compound == own.contact.compound);
    CHECK(flank.rectified.gridPx[0].y == own.rectified.gridPx[0].y);
    CHECK(flank.rectified.outline.rootEdge[0].x == own.rectified.outline.rootEdge[0].x);
    REQUIRE(said.refusedFlanks.size() == 1);
    CHECK(said.refusedFlanks[0].refused.why == Refusal::NoCompound);
    CHECK_FALSE(said.refusedFlanks[0].side);
    CHECK(said.refusedFlanks[0].paintedLogOdds == -2.75);

    const fs::path file = dir.path() / key.substr(0, 2) / (key.substr(2) + ".cbor");
    const std::string other = key.substr(0, 2) + std::string(62, '0');
    fs::copy_file(file, dir.path() / other.substr(0, 2) / (other.substr(2) + ".cbor"));
    CHECK_FALSE(review::loadRead(dir.path(), other));  // the file says what it is of
    const Bytes whole = readFile(file, 1'000'000);
    for (const std::size_t length : {std::size_t{1}, std::size_t{40}, whole.size() / 2, whole.size() - 1}) {
        write(file, Bytes(whole.begin(), whole.begin() + static_cast<std::ptrdiff_t>(length)));
        CHECK_FALSE(review::loadRead(dir.path(), key));
    }
    Random random(7);
    for (int k = 0; k < 300; ++k) {
        Bytes spoilt = whole;
        spoilt[static_cast<std::size_t>(random.integer(0, static_cast<int>(whole.size()) - 1))] ^=
            static_cast<std::uint8_t>(random.integer(1, 255));
        write(file, spoilt);
        (void)review::loadRead(dir.path(), key);  // anything but a crash
    }
    review::keepRead("/proc/no-such-folder", key, read);  // a cache that cannot be written stops nothing
    review::keepRead({}, key, read);
    CHECK_FALSE(review::loadRead({}, key));
}

TEST_CASE("photos are put together without their files, a tooth of two photos counted once", "[review]") {
    const KeptPhotos drive = readOf({flankAt(Side::Drive, 0.40, 0), flankAt(Side::Drive, 0.42, 1)});
    const KeptPhotos coast = readOf({flankAt(Side::Coast, 0.60, 0), flankAt(Side::Coast, 0.62, 1)});
    const KeptPhotos all = review::merged({coast, readOf({}), drive});
    CHECK(all.photos.size() == 3);
    REQUIRE((all.sides[0] && all.sides[1]));
    CHECK(all.sides[0]->pattern.toeHeel == Approx(0.41).margin(0.005));
    CHECK(all.sides[1]->pattern.toeHeel == Approx(0.61).margin(0.005));

    const KeptPhotos again = review::merged({drive, coast, drive});
    REQUIRE(again.sides[0]);
    CHECK(again.sides[0]->pattern.teeth == 2);
    CHECK(again.sides[0]->pattern.sigmaToeHeel == Approx(all.sides[0]->pattern.sigmaToeHeel));
    const KeptPhotos other = readOf({flankAt(Side::Drive, 0.48, 0), flankAt(Side::Drive, 0.49, 1)});
    CHECK(review::merged({drive, other}).sides[0]->pattern.teeth == 4);

    // A flank that counted alone may not count beside others; the picture of a file that is gone stays.
    const KeptPhotos astray = readOf({flankAt(Side::Drive, 0.75, 0)});
    const KeptPhotos judged = review::merged({drive, readOf({flankAt(Side::Drive, 0.41, 5)}), astray});
    CHECK(judged.photos[2].notCounted == 1);
    CHECK(judged.photos[2].flanks[0] == 0);
    CHECK(judged.photos[2].picture == Bytes{1, 2, 3});
    CHECK(judged.sides[0]->pattern.toeHeel == Approx(0.41).margin(0.01));
}

TEST_CASE("another gear or another compound is no photo of the same trial", "[review]") {
    MeasuredPhoto first = readOf({flankAt(Side::Drive, 0.4, 0)}).measured[0], second = first;
    CHECK(review::whyApart(first, second) == review::Apart::No);
    first.hand = Hand::Right;
    CHECK(review::whyApart(first, second) == review::Apart::No);  // one of them does not tell
    second.hand = Hand::Left;
    CHECK(review::whyApart(first, second) == review::Apart::OtherGear);
    second.hand = Hand::Right;
    first.setFit = SetFit{Hand::Right, 41, 0, 0};
    second.setFit = SetFit{Hand::Right, 43.5, 0, 0};
    CHECK(review::whyApart(first, second) == review::Apart::No);  // teeth are counted to one or so
    second.setFit->ringTeeth = 47;
    CHECK(review::whyApart(first, second) == review::Apart::OtherGear);
    second.setFit->ringTeeth = 42;
    second.flanks[0].contact.marking = Marking::Transferred;
    CHECK(review::whyApart(first, second) == review::Apart::OtherCompound);
    second.flanks[0].contact.marking = Marking::Wiped;
    second.flanks[0].contact.compound = {225, 190, 70};  // yellow in another light
    CHECK(review::whyApart(first, second) == review::Apart::No);
    second.flanks[0].contact.compound = {40, 70, 200};
    CHECK(review::whyApart(first, second) == review::Apart::OtherCompound);
    second.flanks[0].contact.compound = {200, 198, 190};
    CHECK(review::whyApart(first, second) == review::Apart::OtherCompound);
    second.flanks[0].contact.compound = {};
    CHECK(review::whyApart(first, second) == review::Apart::No);
}

TEST_CASE("what was done is held against the advice", "[review]") {
    const Advice advice = adviceTo(0.10, 0.20);
    using review::compareDone;
    CHECK(compareDone(advice, 0.11, 0.21) == DoneAs::AsAdvised);
    CHECK(compareDone(advice, 0.05, 0.20) == DoneAs::LessThanAdvised);
    CHECK(compareDone(advice, 0.0, 0.20) == DoneAs::LessThanAdvised);
    CHECK(compareDone(advice, 0.15, {}) == DoneAs::MoreThanAdvised);
    CHECK(compareDone(advice, -0.10, 0.20) == DoneAs::OtherWayRound);
    CHECK(compareDone(advice, 0.10, 0.30) == DoneAs::OtherThanAdvised);
    CHECK(compareDone(advice, {}, 0.20) == DoneAs::AsAdvised);
    CHECK_FALSE(compareDone(advice, {}, {}));
    CHECK(compareDone(adviceTo(0, 0.2), 0.1, 0.2) == DoneAs::OtherThanAdvised);
    Advice leave;
    leave.verdict = Verdict::Accept;
    CHECK(compareDone(leave, 0.1, {}) == DoneAs::NotAdvised);
    CHECK(compareDone(leave, 0.0, {}) == DoneAs::AsAdvised);
}

TEST_CASE("a change helped when the next setting lies nearer", "[review]") {
    const auto at = [](double error, Verdict verdict = Verdict::Change) {
        Advice advice;
        advice.verdict = verdict;
        advice.depthErrorMm.best = error;
        return advice;
    };
    CHECK(review::compareTrials(at(-0.2), at(0.05)) == Helped::Yes);
    CHECK(review::compareTrials(at(0.05), at(-0.2)) == Helped::No);
    CHECK(review::compareTrials(at(0.10), at(-0.09)) == Helped::NoClearChange);
    CHECK(review::compareTrials(at(0.02), at(0.03, Verdict::Accept)) == Helped::Yes);
}

TEST_CASE("bad photos stop nothing and are all named", "[review]") {
    const test::TempDir dir;
    write(dir / "one.jpg", jpeg(""));
    Bytes half = jpeg("");
    half.resize(half.size() - 30);
    write(dir / "half.jpg", half);
    write(dir / "empty.jpg", "");
    write(dir / "text.png", "hello");
    const ReviewPlan plan = planReview({dir.path()});
    ReviewOptions options;
    options.cache = dir / ".cache";
    std::vector<ReviewedJob> jobs;
    const ReviewSummary summary = runReview(plan, options, [&](const ReviewedJob& job) { jobs.push_back(job); });
    REQUIRE(jobs.size() == 1);
    CHECK(jobs[0].trials.at(0).kept.photos.size() == 2);
    CHECK_FALSE(jobs[0].trials.at(0).advice);
    std::set<std::string> named;
    for (const LeftOut& out : summary.leftOut) {
        named.insert(fs::path(out.file).filename().string());
        CHECK(out.reason.size() > 10);
    }
    CHECK(named == std::set<std::string>{"one.jpg", "half.jpg", "empty.jpg", "text.png"});
    const std::string text = summaryText(summary);
    for (const std::string& name : named) CHECK(text.find(name) != std::string::npos);
    CHECK(summary.fromCache == 0);
    // Refusals are kept too: they cost as much.
    CHECK(runReview(plan, options, [](const ReviewedJob&) {}).fromCache == 2);
}

TEST_CASE("what the taker throws goes through, and all threads end", "[review]") {
    const test::TempDir dir;
    for (int k = 0; k < 12; ++k) {
        char when[32];
        std::snprintf(when, sizeof when, "2026:03:%02d 10:00:00", k + 1);
        write(dir / (std::to_string(k) + ".jpg"), jpeg(when, static_cast<std::uint8_t>(k)));
    }
    const ReviewPlan plan = planReview({dir.path()});
    CHECK(plan.units.size() == 12);
    CHECK_THROWS_AS(runReview(plan, {}, [](const ReviewedJob&) { throw InputError("full disk."); }), InputError);
}

TEST_CASE("a record that goes away while it is reviewed is left out", "[review]") {
    const test::TempDir dir;
    ReviewPlan plan;
    plan.units.emplace_back();
    plan.units[0].folder = dir / "gone";
    plan.units[0].isJob = true;
    plan.units[0].photoCount = 3;
    const ReviewSummary summary = runReview(plan, {}, [](const ReviewedJob&) {});
    CHECK(summary.jobs == 0);
    REQUIRE(summary.leftOut.size() == 1);
    CHECK(summary.leftOut[0].file == (dir / "gone").string());
}

TEST_CASE("advice that a newer program weighs a little otherwise is no fault of the record", "[review]") {
    JobRecord record = openJob(fs::path(SHIMSIGHT_SOURCE_DIR) / "samples/job-van-17").record;
    const auto judgedJob = [&] {
        ReviewedJob job;
        for (const TrialEntry& entry : record.trials) {
            ReviewedTrial& trial = job.trials.emplace_back();
            trial.id = trial.label = entry.stamp.id;
            trial.kept.sides = {KeptSide{*entry.measurement->drive, {}}, KeptSide{*entry.measurement->coast, {}}};
        }
        review::judgeWithRecord(job, record);
        return job;
    };
    const ReviewedJob before = judgedJob();
    const Advice& now = *before.trials.front().advice;
    REQUIRE(now.verdict == Verdict::Change);
    const double known = now.depthErrorMm.high90 - now.depthErrorMm.low90;
    Advice& then = *record.trials.front().measurement->advice;
    then.verdict = now.verdict;
    for (const auto& [apartMm, looksWrong] : {std::pair(0.9 * known, false), std::pair(1.5 * known, true)}) {
        then.shim.thicknessChangeMm = now.shim.thicknessChangeMm + apartMm;
        const std::vector<Finding> findings = judgedJob().trials.front().findings;
        const auto told = std::find_if(findings.begin(), findings.end(), [](const Finding& finding) {
            return finding.text.find("The advice shown then") != std::string::npos;
        });
        REQUIRE(told != findings.end());
        CHECK(told->kind == FindingKind::RecordDiffers);
        CHECK(told->looksWrong == looksWrong);
    }
}

TEST_CASE("lines, table and page hold no markup, formula or terminal code of others", "[review]") {
    const ReviewedJob job = hostileJob();
    const std::string lines = reviewLines(job);
    CHECK(std::count(lines.begin(), lines.end(), '\n') == 3);
    CHECK(lines.starts_with("{\"schema\":\"shimsight/review/1\",\"kind\":\"trial\",\"job\":"));
    CHECK(reviewTable(job).find('\x1B') == std::string::npos);

    ReviewedJob formula = job;
    formula.name = "=cmd()";
    CHECK(reviewCsvRows(formula).starts_with("'=cmd(),t1,"));
    const std::string rows = reviewCsvRows(job), header = reviewCsvHeader();
    CHECK(std::count(rows.begin(), rows.end(), '\n') == 2);
    // No field of the job holds a comma, so the commas count the columns.
    const std::string first = rows.substr(0, rows.find('\n'));
    CHECK(std::count(first.begin(), first.end(), ',') >= std::count(header.begin(), header.end(), ','));

    ReviewedJob known = job;
    KeptSide side;
    side.pattern.toeHeel = 0.8, side.pattern.rootTip = 0.625, side.pattern.sigmaToeHeel = 0.01;
    known.trials.front().kept.sides = {side, std::nullopt};
    CHECK(reviewTable(known).find("80 +/- 2 %") != std::string::npos);
    known.trials.front().backlashMm = 0.2032;
    CHECK(reviewTable(known, Units::Metric).find("0.20 mm") != std::string::npos);
    CHECK(reviewTable(known, Units::Metric).find(" in ") == std::string::npos);
    CHECK(reviewTable(known, Units::Inch).find("mm") == std::string::npos);
    CHECK(reviewCsvRows(known).find(",0.800,0.010,0.625,,,,,,") != std::string::npos);

    const test::TempDir dir;
    ReviewPages pages(dir / "review.html");
    pages.add(job);
    ReviewSummary summary;
    summary.leftOut = job.leftOut;
    CHECK(pages.finish(summary) == std::vector<fs::path>{dir / "review.html"});
    const std::string html = textOf(dir / "review.html");
    for (const char* text : {"<script>alert", "<img src=x", "<b>bold", "<u>late", "<i>because", "</section></main>\n<p",
                             "<note>", "<left>", "\x1B", "=\"http", "@import", "url("}) {
        INFO(text);
        CHECK(html.find(text) == std::string::npos);
    }
    CHECK(html.find("&lt;script&gt;alert(&#39;axle&#39;)&lt;/script&gt;") != std::string::npos);
    CHECK(html.find("The other way round") != std::string::npos);
    CHECK(html.find("fk-way") != std::string::npos);

    // In one unit, wherever on the page a length stands.
    known.trials.front().backlashMm = 0.2032;
    ReviewPages metric(dir / "metric.html", Units::Metric);
    metric.add(known);
    (void)metric.finish(summary);
    const std::string told = textOf(dir / "metric.html");
    CHECK(told.find("0.20\xC2\xA0mm") != std::string::npos);
    for (const char* inches : {" in (0.", "0.008 in", "0.008\xC2\xA0in", "\xC2\xA0in\xC2\xA0(", "in inches"})
        CHECK(told.find(inches) == std::string::npos);
}

TEST_CASE("a long review goes on over several pages", "[review]") {
    const test::TempDir dir;
    ReviewedJob job = hostileJob();
    for (ReviewedTrial& trial : job.trials)
        for (KeptPhoto& photo : trial.kept.photos) photo.picture = photo.thumbnail = {0xFF, 0xD8};
    ReviewPages pages(dir / "r.html");
    constexpr std::size_t jobs = kTrialsOnPage + 3;  // two trials each
    for (std::size_t k = 0; k < jobs; ++k) pages.add(job);
    const auto files = pages.finish({});
    REQUIRE(files == std::vector<fs::path>{dir / "r.html", dir / "r-2.html", dir / "r-3.html"});
    std::size_t cards = 0;
    for (const fs::path& file : files) {
        const std::string html = textOf(file);
        for (std::size_t at = html.find("<li class=\"card\""); at != std::string::npos;
             at = html.find("<li class=\"card\"", at + 1))
            ++cards;
    }
    CHECK(cards == jobs);
    CHECK(textOf(files[0]).find("href=\"r-2.html\"") != std::string::npos);
    CHECK(textOf(files[1]).find("href=\"r.html\"") != std::string::npos);
    CHECK(textOf(files[2]).find("Next page") == std::string::npos);
}

TEST_CASE("a good mark a little toward the toe is not called toe", "[review]") {
    Pattern pattern;
    pattern.rootTip = 0.5;
    for (const auto& [toeHeel, said] : {std::pair{0.29, "toe, mid-height"},
                                        {0.31, "toe side, mid-height"},
                                        {0.41, "toe side, mid-height"},
                                        {0.5, "centre, mid-height"},
                                        {0.6, "heel, mid-height"}}) {
        pattern.toeHeel = toeHeel;
        CHECK(placeText(pattern) == said);
    }
}

TEST_CASE("words", "[review]") {
    CHECK(tied("take out 0.006 in (0.15 mm) at 90 %") ==
          "take out 0.006\xC2\xA0in\xC2\xA0(0.15\xC2\xA0mm) at 90\xC2\xA0%");
    CHECK(tied("in a (small) mm") == "in a (small) mm");
    CHECK(timeWords("2026-03-02T14:05:00+01:00") == "2 March 2026, 14:05");
    CHECK(timeWords("2026-03-02 14:05:00") == "2 March 2026, 14:05");
    CHECK(timeWords("soon") == "soon");
    CHECK(shimChangeText(-0.1524, true) == "took out 0.006 in (0.15 mm)");
    CHECK(depthIntervalText({0, -0.0508, 0.0254}) == "0.002 in (0.05 mm) too shallow to 0.001 in (0.03 mm) too deep");
}
