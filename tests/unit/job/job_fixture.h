// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A job to try things on.
#pragma once

#include <string>

#include "shimsight/job.h"

namespace shimsight::test {

inline JobGearSet labGearSet(const std::string& name = "lab-van-rear-axle-a.json") {
    return jobGearSet(std::string(SHIMSIGHT_SOURCE_DIR) + "/models/gear-sets/" + name);
}

inline JobRecord labJob() {
    return newJob(labGearSet(), "Van 12, rear axle", "Motor pool", "Mira", "2026-03-02T08:00:00+01:00");
}

/// A time of that day: minute 0 is 08:00.
inline std::string atMinute(int minute) {
    const auto two = [](int n) { return (n < 10 ? "0" : "") + std::to_string(n); };
    return "2026-03-02T" + two(8 + minute / 60) + ":" + two(minute % 60) + ":00+01:00";
}

inline JobStamp stampAt(int minute) { return {.at = atMinute(minute), .by = "Mira"}; }

inline Pattern labPattern(double toeHeel = 0.45, double rootTip = 0.5) {
    Pattern p;
    p.toeHeel = toeHeel, p.rootTip = rootTip, p.sigmaToeHeel = 0.01, p.sigmaRootTip = 0.02;
    p.length = 0.55, p.height = 0.6, p.area = 0.3, p.tiltDeg = -4, p.teeth = 4;
    return p;
}

/// A trial as it is after reading, with this verdict.
inline TrialEntry labTrial(int minute, Verdict verdict, double rootTip = 0.5) {
    TrialEntry trial;
    trial.stamp = stampAt(minute);
    trial.shimStackMm = 0.762;
    trial.backlashMm = 0.2;
    trial.origin = PatternOrigin::Found;
    MeasurementRecord reading;
    reading.drive = labPattern(0.45, rootTip);
    reading.coast = labPattern(0.46, rootTip);
    Advice advice;
    advice.verdict = verdict;
    advice.backlashTargetMm = 0.2032;
    advice.shim = {PinionShim::UnderPinionSupport,
                   true,
                   verdict == Verdict::Change ? 0.127 : 0.0,
                   verdict == Verdict::Change ? -0.127 : 0.0,
                   {}};
    advice.changesNothing = verdict != Verdict::Change;
    advice.certainty = Certainty::Sure;
    reading.advice = advice;
    trial.measurement = reading;
    return trial;
}

/// A photo in the folder, its content that of no other.
inline JobPhoto photoNamed(std::string file, std::string originalName) {
    JobPhoto photo;
    photo.file = std::move(file);
    photo.originalName = std::move(originalName);
    photo.sha256 = std::string(64, 'a');
    return photo;
}

/// A job with something in every place.
inline JobRecord fullJob() {
    JobRecord job = labJob();
    job.bearings = Bearings::New;
    job.spacer = PinionSpacer::SolidSpacer;
    (void)addRunout(job, {stampAt(1), RunoutPlace::RingGear, 0.05});
    (void)addRunout(job, {stampAt(1), RunoutPlace::CarrierFlange, 0.02});
    (void)addPreload(job, {stampAt(2), 1.7, 1.32, false});
    TrialEntry first = labTrial(10, Verdict::Change, 0.7);
    first.photos = {photoNamed("photos/0123456789abcdef.jpg", "drive \"1\".jpg")};
    first.photos[0].takenAt = "2026-03-02 08:09:00";
    first.photos[0].sizePx = PhotoSize{1000, 750};
    first.photos[0].removed = {"location", "camera data"};
    first.backlashRound = equalSteps(std::vector<double>{0.2, 0.21, 0.2, 0.19});
    first.changed = "nothing yet";
    first.side = Side::Drive;
    first.marking = Marking::Wiped;
    first.origin = PatternOrigin::Outlined;
    PhotoOutline flank;
    flank.photo = "photos/0123456789abcdef.jpg";
    flank.outline.side = Side::Drive;
    flank.outline.corners = {PixelPoint{1, 2}, {3, 4}, {5, 6}, {7, 8}};
    first.outlines = {flank};
    (void)addTrial(job, first);
    WorkEntry work;
    work.stamp = stampAt(20);
    work.shimChangeMm = -0.127, work.backlashMm = 0.2, work.leftNotches = 1, work.rightNotches = -1;
    (void)addWork(job, work);
    TrialEntry second = labTrial(30, Verdict::Accept);
    second.origin = PatternOrigin::Drawn;
    second.drawnDrive = "photos/aaaaaaaaaaaaaaaa.png";
    second.shimStackMm = 0.635;
    second.shimChangeMm = -0.127;
    second.why = "trial 1 asked for it";
    (void)addTrial(job, second);
    (void)addBacklash(job,
                      {stampAt(40), equalSteps(std::vector<double>{0.2, 0.21, 0.2, 0.19}), DialReading::SquareToTooth});
    CarrierEntry carrier;
    carrier.stamp = stampAt(45);
    carrier.leftNotches = 2, carrier.rightNotches = 2;
    (void)addCarrier(job, carrier);
    (void)addPreload(job, {stampAt(46), 1.65, {}, false});
    Tick tick;
    tick.at = atMinute(50), tick.by = "Mira";
    tick.torqueNm = 80, tick.wantedNm = Interval{75, 85}, tick.wantedFrom = "maker's sheet 4, page 2";
    tickCheck(job, "ring-gear-bolts", tick);
    addRemark(job, {atMinute(51), "Mira", "Housing cleaned."});
    return job;
}

}  // namespace shimsight::test
