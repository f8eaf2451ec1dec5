// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>

#include "records_json.h"
#include "shimsight/advice_words.h"
#include "shimsight/records.h"

namespace shimsight {
namespace {

using nlohmann::json;

constexpr std::string_view kMeasurementSchema = "shimsight/reading/1";
constexpr std::size_t kMaxPhotos = 100, kMaxFlanks = 200;  ///< `read` takes 24 photos
constexpr std::size_t kMaxSentences = 200;
constexpr std::size_t kMaxInStack = 50;
constexpr Range kShare{0, 1};
constexpr Range kMoveMm{-50, 50}, kAmountMm{0, 50};
constexpr Range kHours{0, 10'000};
constexpr Range kNotchesMoved{-10'000, 10'000};
constexpr Range kTrialCount{0, 1000};

/// What a shim does to the pinion, + = deeper.
double depthByPlace(PinionShim place, double thicknessChangeMm) {
    return place == PinionShim::UnderPinionSupport ? -thicknessChangeMm : thicknessChangeMm;
}

const auto kRefusalWords = wordsOf(
    std::array{Refusal::NoToothFound, Refusal::FlankTooSmall, Refusal::FlankOutsidePicture, Refusal::OutlineUnusable,
               Refusal::TooDark, Refusal::Glare, Refusal::OutOfFocus, Refusal::NoCompound, Refusal::NotRolled,
               Refusal::Smeared, Refusal::SideUnknown, Refusal::UnreadablePhoto});
const auto kVerdictWords =
    wordsOf(std::array{Verdict::Accept, Verdict::Change, Verdict::NoShimWillHelp, Verdict::MeasureAgain});
constexpr Range kTeeth{0, 1000};
const auto kMisfitWords = wordsOf(std::array{Misfit::Hand, Misfit::ToothCount, Misfit::Proportions});
const auto kStopWords = wordsOf(std::array{StopKind::Jammed, StopKind::Runout, StopKind::UnevenBacklash,
                                           StopKind::TightOrLoosePlace, StopKind::WearNotKnown});
const auto kCertaintyWords = wordsOf(std::array{Certainty::Sure, Certainty::Likely, Certainty::NotSure});
const auto kPreloadWords =
    wordsOf(std::array{PreloadEffect::None, PreloadEffect::Follows, PreloadEffect::Sleeve, PreloadEffect::AskSpacer});
const auto kDiagnosisWords =
    wordsOf(std::array{DiagnosisKind::HousingOffset, DiagnosisKind::ShaftAngle, DiagnosisKind::Runout,
                       DiagnosisKind::MarksScattered, DiagnosisKind::MismatchedOrWorn, DiagnosisKind::UsedGears,
                       DiagnosisKind::FilmThick, DiagnosisKind::FilmThin, DiagnosisKind::SidesSwapped,
                       DiagnosisKind::WrongGearData, DiagnosisKind::EntryChange, DiagnosisKind::EntryBacklash});

std::array<PixelPoint, 4> outlineOf(ObjectReader& reader) {
    const json* corners = reader.requiredList("outline_px", 4);
    if (corners->size() != 4) reader.fail("outline_px", say("records.four-corners"));
    std::array<PixelPoint, 4> result;
    for (std::size_t i = 0; i < 4; ++i) {
        const json& point = (*corners)[i];
        const auto bad = [](const json& number) {
            return !number.is_number() || std::abs(number.get<double>()) > kFarthestPx;
        };
        if (!point.is_array() || point.size() != 2 || bad(point[0]) || bad(point[1]))
            reader.fail("outline_px", say("records.points"));
        result[i] = {point[0].get<double>(), point[1].get<double>()};
    }
    return result;
}

std::string requiredText(ObjectReader& reader, std::string_view key) {
    std::optional<std::string> text = reader.text(key);
    if (!text) reader.fail(key, say("records.missing"));
    return std::move(*text);
}

/// Sentences as they were written: of what they were made is not kept.
std::vector<Message> sentencesAt(ObjectReader& reader, std::string_view key) {
    const std::vector<std::string> sentences = reader.texts(key, kMaxSentences);
    return {sentences.begin(), sentences.end()};
}

std::optional<Refused> refusedAt(ObjectReader& parent) {
    std::optional<ObjectReader> reader = parent.object("refused");
    if (!reader) return std::nullopt;
    Refused refused;
    // Files of the first days leave "why" out.
    refused.why = reader->choice("why", kRefusalWords).value_or(Refusal::UnreadablePhoto);
    refused.reason = requiredText(*reader, "reason");
    refused.whatToDo = requiredText(*reader, "what_to_do");
    reader->finish();
    return refused;
}

RecordedFlank flankOf(ObjectReader reader) {
    RecordedFlank flank;
    const std::optional<Side> side = reader.choice("side", kSideWords);
    if (!side) reader.fail("side", say("records.missing"));
    flank.side = *side;
    flank.outline = outlineOf(reader);
    flank.confidence = reader.requiredNumber("confidence", kShare);
    const std::optional<Marking> marking = reader.choice("marking", kMarkingWords);
    if (!marking) reader.fail("marking", say("records.missing"));
    flank.marking = *marking;
    flank.markingCertainty = reader.number("marking_certainty", kShare).value_or(0.5);
    flank.used = reader.boolean("used").value_or(true);
    const std::optional<Pattern> pattern = readPattern(reader, "pattern");
    if (!pattern) reader.fail("pattern", say("records.missing"));
    flank.pattern = *pattern;
    reader.finish();
    return flank;
}

RecordedRefusedFlank refusedFlankOf(ObjectReader reader) {
    RecordedRefusedFlank flank;
    flank.side = reader.choice("side", kSideWords);
    flank.outline = outlineOf(reader);
    std::optional<Refused> refused = refusedAt(reader);
    if (!refused) reader.fail("refused", say("records.missing"));
    flank.refused = std::move(*refused);
    reader.finish();
    return flank;
}

RecordedPhoto photoOf(ObjectReader reader) {
    RecordedPhoto photo;
    photo.file = requiredText(reader, "file");
    photo.refused = refusedAt(reader);
    photo.found = reader.boolean("found").value_or(false);
    if (std::optional<ObjectReader> cut = reader.object("cut_evidence")) {
        RecordedCutEvidence evidence;
        evidence.chanceFaceMilled = cut->requiredNumber("chance_face_milled", kShare);
        evidence.because = requiredText(*cut, "because");
        cut->finish();
        photo.cutEvidence = std::move(evidence);
    }
    if (const json* flanks = reader.requiredList("flanks", kMaxFlanks))
        for (std::size_t i = 0; i < flanks->size(); ++i)
            photo.flanks.push_back(flankOf(reader.item("flanks", *flanks, i)));
    if (const json* flanks = reader.list("refused_flanks", kMaxFlanks))
        for (std::size_t i = 0; i < flanks->size(); ++i)
            photo.refusedFlanks.push_back(refusedFlankOf(reader.item("refused_flanks", *flanks, i)));
    reader.finish();
    return photo;
}

std::optional<Estimate> estimateAt(ObjectReader& parent, std::string_view key) {
    std::optional<ObjectReader> reader = parent.object(key);
    if (!reader) return std::nullopt;
    Estimate estimate{reader->requiredNumber("best", kMoveMm), reader->requiredNumber("low90", kMoveMm),
                      reader->requiredNumber("high90", kMoveMm)};
    reader->finish();
    return estimate;
}

std::optional<PatternSpread> spreadAt(ObjectReader& parent, std::string_view key) {
    std::optional<ObjectReader> reader = parent.object(key);
    if (!reader) return std::nullopt;
    PatternSpread spread{reader->requiredNumber("toe_heel", kShare), reader->requiredNumber("root_tip", kShare),
                         reader->requiredNumber("length", kShare), reader->requiredNumber("height", kShare)};
    reader->finish();
    return spread;
}

AdviceShim shimAt(ObjectReader& reader) {
    ObjectReader object = reader.requiredObject("shim");
    const std::optional<PinionShim> place = object.choice("where", kPinionShimWords);
    if (!place) object.fail("where", say("records.missing"));
    AdviceShim shim;
    shim.where = *place;
    shim.thicknessChangeMm = object.requiredNumber("thickness_change_mm", kMoveMm);
    // Advice of the first days leaves out what follows from the rest.
    shim.placeKnown = object.boolean("place_known").value_or(true);
    shim.depthChangeMm =
        object.number("depth_change_mm", kMoveMm).value_or(depthByPlace(shim.where, shim.thicknessChangeMm));
    shim.stackMm = object.numbers("stack_mm", kAmountMm, kMaxInStack);
    object.finish();
    return shim;
}

std::optional<AdjusterMove> adjustersAt(ObjectReader& reader, double ringGearMoveMm) {
    std::optional<ObjectReader> object = reader.object("adjusters");
    if (!object) return std::nullopt;
    AdjusterMove move{.leftNotches = object->requiredNumber("left_notches", kNotchesMoved),
                      .rightNotches = object->requiredNumber("right_notches", kNotchesMoved)};
    // Advice of the first days names no sides of the gear: toward the pinion, the back tightens.
    const int back = static_cast<int>(std::lround(std::copysign(move.leftNotches, ringGearMoveMm)));
    move.toothSideNotches = object->integer("tooth_side_notches", kNotchesMoved).value_or(-back);
    move.backSideNotches = object->integer("back_side_notches", kNotchesMoved).value_or(back);
    object->finish();
    return move;
}

std::optional<Stop> stopAt(ObjectReader& reader) {
    std::optional<ObjectReader> object = reader.object("stop");
    if (!object) return std::nullopt;
    const std::optional<StopKind> kind = object->choice("kind", kStopWords);
    if (!kind) object->fail("kind", say("records.missing"));
    const Stop stop{*kind, requiredText(*object, "evidence")};
    object->finish();
    return stop;
}

PreloadShim preloadShimAt(ObjectReader& reader, const AdviceShim& shim) {
    std::optional<ObjectReader> object = reader.object("preload_shim");
    if (!object) {
        const bool asks = shim.thicknessChangeMm != 0 && shim.where != PinionShim::UnderPinionSupport;
        return asks ? PreloadShim{PreloadEffect::AskSpacer, shim.thicknessChangeMm} : PreloadShim{};
    }
    const std::optional<PreloadEffect> effect = object->choice("effect", kPreloadWords);
    if (!effect) object->fail("effect", say("records.missing"));
    const PreloadShim preload{*effect, object->requiredNumber("thickness_change_mm", kMoveMm)};
    object->finish();
    return preload;
}

std::optional<RunnerUp> runnerUpAt(ObjectReader& reader) {
    std::optional<ObjectReader> object = reader.object("runner_up");
    if (!object) return std::nullopt;
    const RunnerUp other{.thicknessChangeMm = object->requiredNumber("thickness_change_mm", kMoveMm),
                         .backlashTargetMm = object->requiredNumber("backlash_target_mm", kAmountMm),
                         .chanceAcceptableNext = object->requiredNumber("chance_acceptable_next", kShare),
                         .expectedHours = object->requiredNumber("expected_hours", kHours)};
    object->finish();
    return other;
}

std::vector<Diagnosis> diagnosesAt(ObjectReader& reader) {
    std::vector<Diagnosis> diagnoses;
    const json* list = reader.list("diagnoses", kMaxSentences);
    for (std::size_t i = 0; list != nullptr && i < list->size(); ++i) {
        ObjectReader item = reader.item("diagnoses", *list, i);
        const std::optional<DiagnosisKind> kind = item.choice("kind", kDiagnosisWords);
        if (!kind) item.fail("kind", say("records.missing"));
        const double chance = item.requiredNumber("chance", kShare);
        Diagnosis diagnosis{.kind = *kind, .chance = chance, .evidence = requiredText(item, "evidence")};
        diagnosis.question = item.boolean("question").value_or(false);
        diagnosis.shown = item.boolean("shown").value_or(false);
        diagnoses.push_back(std::move(diagnosis));
        item.finish();
    }
    return diagnoses;
}

/// Chances and what follows from them.
void readChances(ObjectReader& reader, Advice& advice) {
    advice.chanceAcceptableNext = reader.requiredNumber("chance_acceptable_next", kShare);
    advice.chanceAcceptableNow = reader.number("chance_acceptable_now", kShare).value_or(0);
    advice.chanceFaceMilled = reader.number("chance_face_milled", kShare).value_or(1);
    const bool moves = advice.verdict == Verdict::Change;
    advice.certainty = reader.choice("certainty", kCertaintyWords)
                           .value_or(certaintyOf(moves ? advice.chanceAcceptableNext : advice.chanceAcceptableNow));
    advice.changesNothing = reader.boolean("changes_nothing").value_or(!moves);
    advice.readAgainFirst = reader.boolean("read_again_first").value_or(false);
    advice.expectedHours = reader.number("expected_hours", kHours).value_or(0);
    advice.trials = reader.integer("trials", kTrialCount).value_or(1);
}

void readExpected(ObjectReader& reader, Advice& advice) {
    ObjectReader expected = reader.requiredObject("expected_pattern");
    advice.expectedDrive = readPattern(expected, "drive");
    advice.expectedCoast = readPattern(expected, "coast");
    expected.finish();
    if (std::optional<ObjectReader> spread = reader.object("expected_spread")) {
        advice.spreadDrive = spreadAt(*spread, "drive");
        advice.spreadCoast = spreadAt(*spread, "coast");
        spread->finish();
    }
}

}  // namespace

Advice readAdvice(ObjectReader& reader) {
    Advice advice;
    const std::optional<Verdict> verdict = reader.choice("verdict", kVerdictWords);
    if (!verdict) reader.fail("verdict", say("records.missing"));
    advice.verdict = *verdict;
    const std::optional<Estimate> change = estimateAt(reader, "pinion_depth_change_mm");
    if (!change) reader.fail("pinion_depth_change_mm", say("records.missing"));
    advice.pinionDepthChangeMm = *change;
    advice.depthErrorMm = estimateAt(reader, "depth_error_mm").value_or(Estimate{});
    advice.backlashNowMm = reader.number("backlash_now_mm", kAmountMm);
    advice.backlashTargetMm = reader.requiredNumber("backlash_target_mm", kAmountMm);
    advice.ringGearMoveMm = reader.requiredNumber("ring_gear_move_mm", kMoveMm);
    advice.shim = shimAt(reader);
    advice.adjusters = adjustersAt(reader, advice.ringGearMoveMm);
    advice.stop = stopAt(reader);
    (void)reader.text("lead");  // follows from the rest
    advice.lookFirst = sentencesAt(reader, "look_first");
    advice.limitsKnown = reader.boolean("limits_known").value_or(true);
    advice.preloadShim = preloadShimAt(reader, advice.shim);
    readChances(reader, advice);
    advice.runnerUp = runnerUpAt(reader);
    advice.diagnoses = diagnosesAt(reader);
    readExpected(reader, advice);
    advice.because = sentencesAt(reader, "because");
    advice.cautions = sentencesAt(reader, "cautions");
    reader.finish();
    return advice;
}

MeasurementRecord readMeasurement(ObjectReader& reader) {
    reader.expectSchema(kMeasurementSchema);
    MeasurementRecord record;
    const json* photos = reader.requiredList("photos", kMaxPhotos);
    for (std::size_t i = 0; i < photos->size(); ++i)
        record.photos.push_back(photoOf(reader.item("photos", *photos, i)));
    ObjectReader pattern = reader.requiredObject("pattern");
    record.drive = readPattern(pattern, "drive");
    record.coast = readPattern(pattern, "coast");
    pattern.finish();
    if (std::optional<ObjectReader> misfit = reader.object("set_misfit")) {
        const std::optional<Misfit> what = misfit->choice("what", kMisfitWords);
        if (!what) misfit->fail("what", say("records.missing"));
        record.setMisfit =
            SetMisfit{*what, misfit->requiredNumber("seen", kTeeth), misfit->requiredNumber("given", kTeeth)};
        misfit->finish();
    }
    if (std::optional<ObjectReader> advice = reader.object("advice")) record.advice = readAdvice(*advice);
    record.notes = sentencesAt(reader, "notes");
    record.assumed = sentencesAt(reader, "assumed");
    reader.finish();
    return record;
}

MeasurementRecord parseMeasurement(std::string_view text, std::string_view fileName) {
    std::vector<std::string> warnings;
    const std::string file(fileName);
    const json document = parseJsonObject(text, file);
    ObjectReader reader(document, file, "", warnings);
    return readMeasurement(reader);
}

}  // namespace shimsight
