// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// Speed and memory of the parts that a person waits for. Every ratio comes from one run on one core; the yardstick is
// TurboJPEG's full decode of the same 12-megapixel photo into a fresh buffer. Medians of many repeats. The photo is a
// sample enlarged to 4032 x 3024 with fresh sensor noise, quality 90.
//
// Run from the root of the repository. Usage: line_bench PHOTO.jpg OUTLINE.json GEAR_SET.json [NO_GEAR.jpg]

#include <sys/resource.h>
#include <sys/wait.h>
#include <turbojpeg.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

#include "shimsight/files.h"
#include "shimsight/measure.h"
#include "shimsight/records.h"
#include "shimsight/render.h"

using namespace shimsight;

namespace {

/// Processor time of this process, all its threads: other work on the machine does not count.
double processorMs() {
    timespec now{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return 1e3 * static_cast<double>(now.tv_sec) + 1e-6 * static_cast<double>(now.tv_nsec);
}

double medianMs(int repeats, const std::function<void()>& work) {
    std::vector<double> times;
    for (int i = 0; i < repeats; ++i) {
        const double start = processorMs();
        work();
        times.push_back(processorMs() - start);
    }
    std::nth_element(times.begin(), times.begin() + repeats / 2, times.end());
    return times[static_cast<std::size_t>(repeats / 2)];
}

/// By the clock on the wall: for what several processors do together. The least of some repeats, since other work only
/// adds.
double leastWallMs(int repeats, const std::function<void()>& work) {
    double least = 1e12;
    for (int i = 0; i < repeats; ++i) {
        const auto start = std::chrono::steady_clock::now();
        work();
        least = std::min(least,
                         std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count());
    }
    return least;
}

double peakMemoryMb() {
    rusage usage{};
    getrusage(RUSAGE_SELF, &usage);
    return static_cast<double>(usage.ru_maxrss) / 1024;
}

/// TurboJPEG alone, full size, into a fresh buffer.
void decodeFully(const std::vector<std::uint8_t>& jpeg) {
    const tjhandle handle = tjInitDecompress();
    int width = 0, height = 0, subsampling = 0, colours = 0;
    if (tjDecompressHeader3(handle, jpeg.data(), jpeg.size(), &width, &height, &subsampling, &colours) != 0)
        throw std::runtime_error("the bench photo does not decode");
    std::vector<std::uint8_t> rgb(static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 3);
    if (tjDecompress2(handle, jpeg.data(), jpeg.size(), rgb.data(), width, 0, height, TJPF_RGB, 0) != 0)
        throw std::runtime_error("the bench photo does not decode");
    tjDestroy(handle);
}

constexpr int kBenchWidth = 4032, kBenchHeight = 3024;

/// The photo enlarged to 12 megapixels with noise of two grey levels, written as JPEG. Returns the enlargement.
double makeBenchPhoto(const std::string& from, const std::string& to) {
    const Picture small = loadPhoto(from).picture;
    const double scale = static_cast<double>(kBenchWidth) / small.width;
    Picture large{kBenchWidth, kBenchHeight,
                  std::vector<std::uint8_t>(static_cast<std::size_t>(kBenchWidth) * kBenchHeight * 3)};
    Random random(1);
    for (int y = 0; y < kBenchHeight; ++y) {
        const double sy = std::clamp((y + 0.5) / scale - 0.5, 0.0, small.height - 1.001);
        const auto y0 = static_cast<std::size_t>(sy);
        for (int x = 0; x < kBenchWidth; ++x) {
            const double sx = std::clamp((x + 0.5) / scale - 0.5, 0.0, small.width - 1.001);
            const auto x0 = static_cast<std::size_t>(sx);
            const double fx = sx - static_cast<double>(x0), fy = sy - static_cast<double>(y0);
            const auto width = static_cast<std::size_t>(small.width);
            for (std::size_t c = 0; c < 3; ++c) {
                const auto at = [&](std::size_t px, std::size_t py) {
                    return static_cast<double>(small.rgb[(py * width + px) * 3 + c]);
                };
                const double value = (1 - fy) * ((1 - fx) * at(x0, y0) + fx * at(x0 + 1, y0)) +
                                     fy * ((1 - fx) * at(x0, y0 + 1) + fx * at(x0 + 1, y0 + 1));
                large.rgb[(static_cast<std::size_t>(y) * kBenchWidth + static_cast<std::size_t>(x)) * 3 + c] =
                    static_cast<std::uint8_t>(std::clamp(value + random.normal(0, 2), 0.0, 255.0));
            }
        }
    }
    writeFileAtomically(to, encodeJpeg(large, 90));
    return scale;
}

double inChild(const std::function<double()>& work) {
    int ends[2];
    if (pipe(ends) != 0) throw std::runtime_error("no pipe");
    const pid_t child = fork();
    if (child < 0) throw std::runtime_error("no child process");
    if (child == 0) {
        const double value = work();
        const bool written = write(ends[1], &value, sizeof value) == static_cast<ssize_t>(sizeof value);
        _exit(written ? 0 : 1);
    }
    double value = 0;
    const bool got = read(ends[0], &value, sizeof value) == static_cast<ssize_t>(sizeof value);
    int status = 0;
    waitpid(child, &status, 0);
    if (!got || status != 0) throw std::runtime_error("the bench photo could not be made");
    return value;
}

void enlarge(FlankOutline& outline, double scale) {
    const auto scaled = [&](PixelPoint& point) { point = {point.x * scale, point.y * scale}; };
    for (PixelPoint& point : outline.corners) scaled(point);
    for (auto* edge : {&outline.rootEdge, &outline.tipEdge, &outline.toeEdge, &outline.heelEdge})
        for (PixelPoint& point : *edge) scaled(point);
}

/// A photo with nothing in it, enlarged in the same way, against its own decode.
void timeWithoutGear(const std::string& from) {
    const std::string file =
        std::filesystem::temp_directory_path() / ("shimsight-bench-none-" + std::to_string(getpid()) + ".jpg");
    makeBenchPhoto(from, file);
    const std::vector<std::uint8_t> jpeg = readFile(file, 100'000'000);
    const double decode = medianMs(15, [&] { decodeFully(jpeg); });
    const double read = medianMs(9, [&] {
        std::vector<TrialPhoto> photos;
        photos.push_back({file, openTrialPhoto(file), {}});
        if (measureTrial(photos, nullptr).anythingRead()) throw std::runtime_error("this photo shows a gear");
    });
    std::printf("whole read, a photo without a gear: %.1f ms = %.2f decodes\n", read, read / decode);
    std::filesystem::remove(file);
}

/// The photo that is measured, as a file, with the flanks marked on it and its gear set.
struct BenchPhoto {
    std::string file;
    std::vector<FlankOutline> outlines;
    GearSetData data;
    GearSet set;
};

/// Decode to advice; whether it gave one.
bool readWhole(const BenchPhoto& bench, bool marked) {
    std::vector<TrialPhoto> photos;  // moved into place, as the commands do: a copy would cost two tenths of a decode
    photos.push_back({bench.file, openTrialPhoto(bench.file), marked ? bench.outlines : std::vector<FlankOutline>{}});
    const Measurement measured = measureTrial(photos, &bench.data);
    TrialObservation seen = observationOf(measured);
    seen.backlashMm = bench.set.limits.backlashMm.middle();
    return adviseTrial(measured, bench.data, seen).has_value();
}

/// Memory first: the peak only ever grows.
void tellMemory(const BenchPhoto& bench) {
    const double before = peakMemoryMb();
    for (const bool marked : {true, false}) {
        if (!readWhole(bench, marked)) throw std::runtime_error("the bench photo gives no reading");
        std::printf("peak memory of the process after one whole read, %s: %.0f MB (%.0f MB before)\n",
                    marked ? "corners marked" : "teeth found", peakMemoryMb(), before);
    }
}

void timeReading(const BenchPhoto& bench, double decode) {
    for (const bool marked : {true, false}) {
        const double read = medianMs(9, [&] { readWhole(bench, marked); });
        std::printf("whole read, %s, decode to advice: %.1f ms = %.2f decodes\n",
                    marked ? "corners marked" : "teeth found", read, read / decode);
    }
}

/// What a read is made of, and how far two cores help.
void timeParts(const BenchPhoto& bench) {
    const Outcome<Photo> photo = openTrialPhoto(bench.file);
    std::printf("  of it: decode at reduced size %.1f ms, teeth found %.1f ms\n",
                medianMs(9, [&] { openTrialPhoto(bench.file); }),
                medianMs(9, [&] { findTeeth(photo.value(), &bench.set); }));
    const auto measured = [&](std::size_t photos) {
        const std::vector<TrialPhoto> trial(photos, {bench.file, photo, {}});
        return leastWallMs(7, [&] { measureTrial(trial, nullptr); });
    };
    const double one = measured(1), two = measured(2);
    std::printf("wall clock: one photo measured %.1f ms, two on two cores %.1f ms, %.2f times as fast as one by one\n",
                one, two, 2 * one / two);
}

void timeContactModel(const GearSet& set, const ToothContact& contact) {
    std::printf("gear set built: %.1f ms\n", medianMs(15, [&] { ToothContact built(set); }));
    volatile float sink = 0;
    constexpr int kMany = 2000;
    const double predict = medianMs(9, [&] {
        for (int i = 0; i < kMany; ++i)
            sink = sink + contact.predict(Side::Drive, {1e-4 * i, 0, 0, 0}, set.modification[0]).contact[900];
    });
    std::printf("one side's predicted map (64 x 32): %.1f us\n", predict / kMany * 1000);
    const double coarse = medianMs(9, [&] {
        for (int i = 0; i < kMany; ++i)
            sink = sink + contact.predictCoarse(Side::Drive, {1e-4 * i, 0, 0, 0}, set.modification[0])[200];
    });
    std::printf("one side's coarse map (32 x 16): %.1f us\n", coarse / kMany * 1000);
    const double drawn = medianMs(99, [&] {
        sink = sink + contact.predictMap(Side::Drive, {0.02, 0, 0, 0}, set.modification[0]).at(128, 64);
    });
    std::printf("one side's flank map drawn (256 x 128): %.0f us\n", drawn * 1000);
    std::printf("exact map: %.0f ms\n", medianMs(5, [&] {
                    contact.exactMap(Side::Drive, {0.02, 0, 0, 0}, set.modification[0]);
                }));
}

/// Both sides as they mark at this depth error.
TrialObservation seenAt(const ToothContact& contact, double depthMm) {
    const GearSet& set = contact.gearSet();
    TrialObservation seen;
    for (const Side side : kSides)
        (side == Side::Drive ? seen.drive : seen.coast) =
            measurePattern(contact.predictMap(side, {depthMm, -0.03, 0, 0}, set.modification[index(side)]));
    seen.backlashMm = set.limits.backlashMm.middle();
    return seen;
}

void timeAdvice(const ToothContact& contact, double decode) {
    const TrialObservation trial = seenAt(contact, 0.08);
    const double advice = medianMs(15, [&] { advise({&contact}, trial); });
    std::printf("advice, both sides, gear set built before: %.1f ms = %.2f decodes\n", advice, advice / decode);
    // Ten trials of one job, the error going down; each read on both sides.
    std::vector<JobTrial> history;
    for (int k = 0; k < 10; ++k) {
        JobTrial step;
        step.seen = seenAt(contact, 0.2 * std::pow(0.7, k));
        if (k > 0) step.shimChangeMm = 0.2 * (std::pow(0.7, k) - std::pow(0.7, k - 1));
        history.push_back(step);
    }
    std::printf("advice after ten trials of a job, gear set built before: %.0f ms\n",
                medianMs(5, [&] { advise({&contact}, history); }));
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 4 && argc != 5) {
        std::fputs("usage: line_bench PHOTO.jpg OUTLINE.json GEAR_SET.json [NO_GEAR.jpg]\n", stderr);
        return 2;
    }
    BenchPhoto bench;
    bench.data = loadGearSet(argv[3]);
    bench.set = completeGearSet(bench.data);
    bench.file = std::filesystem::temp_directory_path() / ("shimsight-bench-" + std::to_string(getpid()) + ".jpg");
    bench.outlines = loadOutline(argv[2]);
    // In a child process, so that making the photo does not count as the reader's memory.
    const double scale = inChild([&] { return makeBenchPhoto(argv[1], bench.file); });
    for (FlankOutline& outline : bench.outlines) enlarge(outline, scale);
    const std::vector<std::uint8_t> jpeg = readFile(bench.file, 100'000'000);

    tellMemory(bench);
    const double decode = medianMs(15, [&] { decodeFully(jpeg); });
    std::printf("yardstick: TurboJPEG full decode of the 12-megapixel photo: %.1f ms\n", decode);
    timeReading(bench, decode);
    if (argc == 5) timeWithoutGear(argv[4]);
    timeParts(bench);
    const ToothContact contact(bench.set);
    timeContactModel(bench.set, contact);
    timeAdvice(contact, decode);
    std::filesystem::remove(bench.file);
    return 0;
}
