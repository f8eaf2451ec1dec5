// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/tracer.h"

#include <atomic>
#include <exception>
#include <mutex>
#include <thread>

namespace shimsight::render {
namespace {

constexpr int kBounces = 3;  // camera, and two reflections further
constexpr float kIndirectLimit =
    3;  // times the meter: brighter indirect glints are cut, single paths that would outshine a pixel
constexpr float kLampLimit =
    60;  // times the meter: a lamp mirrored in a wet edge; brighter ones burn out just the same
constexpr int kDimensions = 10;

/// Additive sequence of the generalised golden ratio (M. Roberts, 2018): even in every pair of dimensions.
class Sequence {
public:
    explicit Sequence(std::uint64_t seed) {
        static const std::array<double, kDimensions> steps = [] {
            double phi = 2;
            for (int i = 0; i < 60; ++i) phi = std::pow(1 + phi, 1.0 / (kDimensions + 1));
            std::array<double, kDimensions> values{};
            double power = 1;
            for (double& v : values) v = (power /= phi);
            values[4] = 0.6180339887498949;  // the pick of the lamp: evenest by itself
            return values;
        }();
        for (int k = 0; k < kDimensions; ++k) {
            shift_[static_cast<std::size_t>(k)] =
                unitFloat(splitMix(seed + static_cast<std::uint64_t>(k) * 0x632be59bd9b4e019ull));
            step_[static_cast<std::size_t>(k)] = steps[static_cast<std::size_t>(k)];
        }
    }
    float at(int i, int dimension) const {
        const auto k = static_cast<std::size_t>(dimension);
        const double v = shift_[k] + step_[k] * i;
        return std::min(static_cast<float>(v - std::floor(v)), 0.99999994f);
    }

private:
    std::array<double, kDimensions> shift_{}, step_{};
};

constexpr std::size_t kMaxLights = 12;
using Shares = std::array<float, kMaxLights>;  ///< chance of each lamp to be picked

struct LightPick {
    Shares share{};  ///< seen from nowhere in particular
    std::vector<Vec> normal;
    std::vector<float> area;
};

LightPick prepare(const World& world) {
    LightPick pick;
    check(world.lights.size() <= kMaxLights, "too many lamps in the scene");
    float sum = 0;
    for (std::size_t i = 0; i < world.lights.size(); ++i) {
        const RectLight& light = world.lights[i];
        const Vec centre = light.corner + (light.edgeX + light.edgeY) * 0.5f;
        const float power = luminance(light.radiance) * light.area() / std::max(1.0f, dot(centre, centre));
        sum += pick.share[i] = std::sqrt(power);  // between even and by power
        pick.normal.push_back(light.normal());
        pick.area.push_back(light.area());
    }
    for (float& s : pick.share) s /= std::max(sum, 1e-20f);
    return pick;
}

/// Chances by what each lamp would bring to this surface if nothing stood between; a part stays with the even chances,
/// for large lamps whose middle is no fair sample.
Shares sharesAt(const World& world, const LightPick& pick, const Bsdf& bsdf, Vec position) {
    constexpr float kEven = 0.25f;
    Shares shares{};
    float sum = 0;
    for (std::size_t i = 0; i < world.lights.size(); ++i) {
        const RectLight& light = world.lights[i];
        const Vec to = light.corner + (light.edgeX + light.edgeY) * 0.5f - position;
        const float distance2 = dot(to, to);
        const Vec d = to / std::sqrt(distance2);
        const float facing = std::abs(dot(d, pick.normal[i])) + 0.05f;
        sum += shares[i] = luminance(bsdf.evaluate(d).value * light.radiance) * pick.area[i] * facing / distance2;
    }
    for (std::size_t i = 0; i < world.lights.size(); ++i) {
        shares[i] = sum > 0 ? kEven * pick.share[i] + (1 - kEven) * shares[i] / sum : pick.share[i];
    }
    return shares;
}

/// Radiance of the lamps and the room along a ray that hits nothing, and the chance that the lamp was picked directly.
Vec beyond(const World& world, const LightPick& pick, const Shares& shares, Vec origin, Vec direction, float bsdfPdf) {
    Vec sum = world.surroundings.radiance(direction);
    if (bsdfPdf <= 0) return sum;  // lamps themselves are not in the picture
    for (std::size_t i = 0; i < world.lights.size(); ++i) {
        const RectLight& light = world.lights[i];
        const float facing = dot(direction, pick.normal[i]);
        if (std::abs(facing) < 1e-5f) continue;
        const float t = dot(light.corner - origin, pick.normal[i]) / facing;
        if (t <= 0) continue;
        const Vec q = origin + direction * t - light.corner;
        const float a = dot(q, light.edgeX) / dot(light.edgeX, light.edgeX),
                    b = dot(q, light.edgeY) / dot(light.edgeY, light.edgeY);
        if (a < 0 || a > 1 || b < 0 || b > 1 || !light.reaches(origin)) continue;
        const float lightPdf = shares[i] * t * t / (std::abs(facing) * pick.area[i]);
        const float weight = bsdfPdf / (bsdfPdf + lightPdf);
        sum += light.radiance * weight;
    }
    return sum;
}

Vec limited(Vec radiance, float limit) {
    const float top = maxOf(radiance);
    return top > limit ? radiance * (limit / top) : radiance;
}

/// What the first surface is like, for smoothing.
struct Feature {
    Vec colour, normal;
    float distance = 0;
};

struct Ray {
    Vec origin, direction;
};

/// The random numbers of one path: well spread ones for its first surface, any others after it.
struct PathNumbers {
    const Sequence& sequence;
    int index = 0;
    PixelRandom& random;
    float at(int bounce, int k) { return bounce == 0 ? sequence.at(index, 4 + k) : random.uniform(); }
};

/// What a world looks like along rays: paths of several reflections.
class Paths {
public:
    Paths(const World& world, const Looks& looks, float pixelAngle)
        : world_(world), looks_(looks), pick_(prepare(world)), pixelAngle_(pixelAngle) {}

    const World& world() const { return world_; }

    /// Radiance along a ray; `meter`: the mean light, above a multiple of which single glints are cut.
    Vec radiance(Ray ray, float meter, PathNumbers numbers, Feature& feature) const {
        Vec sum, weight{1, 1, 1};
        float pdf = 0;
        Shares shares{};
        for (int bounce = 0; bounce < kBounces; ++bounce) {
            const auto hit = world_.intersect(ray.origin, ray.direction);
            if (!hit) {
                const Vec more = weight * beyond(world_, pick_, shares, ray.origin, ray.direction, pdf);
                sum += bounce > 1 ? limited(more, kIndirectLimit * meter) : limited(more, kLampLimit * meter);
                if (bounce == 0) feature = {more / meter, -ray.direction, 1e5f};
                break;
            }
            const Surface surface = surfaceAt(*hit, looks_, footprintOf(*hit, ray, bounce));
            if (bounce == 0) feature = featureOf(*hit, surface);
            const Bsdf bsdf(surface, -ray.direction);
            const Vec start = hit->position + hit->geometric * 2e-3f;
            if (!world_.lights.empty()) {
                shares = bounce == 0 ? sharesAt(world_, pick_, bsdf, start) : pick_.share;
                const float limit = (bounce > 0 ? kIndirectLimit : kLampLimit) * meter;
                sum += limited(oneLamp(weight, bsdf, shares, start, bounce, numbers), limit);
            }
            if (bounce + 1 == kBounces) {
                // What further reflections would bring, roughly: some of the room's light.
                sum += weight * surface.diffuse * world_.surroundings.wall * 0.5f;
                break;
            }
            // Onward by the surface's own scattering.
            const float r0 = numbers.at(bounce, 3), r1 = numbers.at(bounce, 4), r2 = numbers.at(bounce, 5);
            ray = {start, bsdf.sample(r0, r1, r2)};
            const BsdfValue f = bsdf.evaluate(ray.direction);
            if (f.pdf <= 1e-6f) break;
            weight *= f.value / f.pdf;
            pdf = f.pdf;
            // Weak paths end by chance.
            const float keep = std::min(1.0f, maxOf(weight) * (bounce == 0 ? 1.6f : 0.9f));
            if (keep < 1) {
                if (numbers.random.uniform() >= keep) break;
                weight *= 1 / keep;
            }
        }
        return sum;
    }

private:
    float footprintOf(const Hit& hit, const Ray& ray, int bounce) const {
        return bounce > 0 ? kReflected : hit.distance * pixelAngle_ / std::max(0.3f, -dot(ray.direction, hit.normal));
    }

    /// Relief that is meant to be seen guides the smoothing only where compound lies.
    static Feature featureOf(const Hit& hit, const Surface& surface) {
        const bool flank = hit.material == Material::DriveFlank || hit.material == Material::CoastFlank;
        return {surface.diffuse * 2.0f + surface.f0, flank ? surface.normal : hit.normal, hit.distance};
    }

    /// The light of one lamp, picked by what it may bring, times the path's weight.
    Vec oneLamp(Vec weight, const Bsdf& bsdf, const Shares& shares, Vec start, int bounce, PathNumbers& numbers) const {
        float which = numbers.at(bounce, 0);
        std::size_t i = 0;
        while (i + 1 < world_.lights.size() && which >= shares[i]) which -= shares[i++];
        const RectLight& light = world_.lights[i];
        const Vec to = light.corner + light.edgeX * numbers.at(bounce, 1) + light.edgeY * numbers.at(bounce, 2) - start;
        const float distance = length(to);
        const Vec d = to / distance;
        const BsdfValue f = bsdf.evaluate(d);
        const float facing = std::abs(dot(d, pick_.normal[i]));
        if (maxOf(f.value) <= 0 || facing <= 1e-4f || !light.reaches(start) ||
            world_.blocked(start, d, distance * 0.999f))
            return {};
        const float lightPdf = shares[i] * distance * distance / (facing * pick_.area[i]);
        return weight * f.value * light.radiance * (1 / (lightPdf + f.pdf));
    }

    const World& world_;
    const Looks& looks_;
    LightPick pick_;
    float pixelAngle_;
};

Vec asVec(const Eigen::Vector3d& v) {
    return {static_cast<float>(v.x()), static_cast<float>(v.y()), static_cast<float>(v.z())};
}

struct Traced {
    int width = 0, height = 0;
    std::vector<Vec> colour;
    std::vector<Feature> feature;
    std::vector<float> variance;  ///< of the mean luminance
};

std::vector<float> blurred(const std::vector<float>& values, int width, int height, int reach, int threads) {
    std::vector<float> rows(values.size()), result(values.size());
    const auto at = [width](int x, int y) {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(width) + static_cast<std::size_t>(x);
    };
    parallelFor(height, threads, [&](int y) {
        for (int x = 0; x < width; ++x) {
            float sum = 0;
            const int first = std::max(0, x - reach), last = std::min(width - 1, x + reach);
            for (int i = first; i <= last; ++i) sum += values[at(i, y)];
            rows[at(x, y)] = sum / static_cast<float>(last - first + 1);
        }
    });
    parallelFor(height, threads, [&](int y) {
        const int first = std::max(0, y - reach), last = std::min(height - 1, y + reach);
        for (int x = 0; x < width; ++x) {
            float sum = 0;
            for (int j = first; j <= last; ++j) sum += rows[at(x, j)];
            result[at(x, y)] = sum / static_cast<float>(last - first + 1);
        }
    });
    return result;
}

/// One pass of smoothing: mean over pixels `step` apart of the same kind of surface, whose brightness differs no more
/// than the noise explains. The variance becomes that of the mean.
void smooth(Traced& traced, int step, float meter, int threads) {
    constexpr int kReach = 2;
    // The variance of a few samples is itself noisy: its mean over the surroundings is used.
    const std::vector<float> spread = blurred(traced.variance, traced.width, traced.height, 3, threads);
    std::vector<Vec> colour(traced.colour.size());
    std::vector<float> variance(traced.variance.size());
    parallelFor(traced.height, threads, [&](int y) {
        for (int x = 0; x < traced.width; ++x) {
            const auto own =
                static_cast<std::size_t>(y) * static_cast<std::size_t>(traced.width) + static_cast<std::size_t>(x);
            const Feature& f = traced.feature[own];
            const float level = luminance(traced.colour[own]), floor = 2e-5f * meter * meter;
            const float colourScale = 1 / (0.0016f + 0.02f * dot(f.colour, f.colour)),
                        depthScale = 1 / (0.01f * f.distance * static_cast<float>(step));
            Vec sum;
            float weights = 0, varianceSum = 0;
            for (int dy = -kReach; dy <= kReach; ++dy) {
                const int j = y + dy * step;
                if (j < 0 || j >= traced.height) continue;
                for (int dx = -kReach; dx <= kReach; ++dx) {
                    const int i = x + dx * step;
                    if (i < 0 || i >= traced.width) continue;
                    const auto other = static_cast<std::size_t>(j) * static_cast<std::size_t>(traced.width) +
                                       static_cast<std::size_t>(i);
                    const Feature& g = traced.feature[other];
                    const Vec dc = g.colour - f.colour, dn = g.normal - f.normal;
                    const float dd = (g.distance - f.distance) * depthScale,
                                dl = luminance(traced.colour[other]) - level;
                    const float e = dot(dc, dc) * colourScale + dot(dn, dn) * 160.0f + dd * dd +
                                    dl * dl / (14 * (spread[own] + spread[other]) + floor) +
                                    0.12f * static_cast<float>(dx * dx + dy * dy);
                    if (e > 7) continue;
                    const float w = std::exp(-e);
                    sum += traced.colour[other] * w;
                    weights += w;
                    varianceSum += w * w * traced.variance[other];
                }
            }
            colour[own] = sum / weights;
            variance[own] = varianceSum / (weights * weights);
        }
    });
    traced.colour = std::move(colour);
    traced.variance = std::move(variance);
}

/// A pixel whose light came by one lucky path, far brighter than its neighbours, is no glint: it comes down to theirs.
void calmOutliers(Traced& traced, int threads) {
    constexpr float kLucky = 0.4f;  // error of the mean over the mean; an edge of a highlight stays under 0.35
    std::vector<Vec> colour = traced.colour;
    parallelFor(traced.height, threads, [&](int y) {
        for (int x = 0; x < traced.width; ++x) {
            const auto own =
                static_cast<std::size_t>(y) * static_cast<std::size_t>(traced.width) + static_cast<std::size_t>(x);
            const float level = luminance(traced.colour[own]);
            if (traced.variance[own] < kLucky * kLucky * level * level) continue;
            std::array<float, 8> near{};
            std::size_t count = 0;
            for (int j = std::max(0, y - 1); j <= std::min(traced.height - 1, y + 1); ++j) {
                for (int i = std::max(0, x - 1); i <= std::min(traced.width - 1, x + 1); ++i) {
                    if (i == x && j == y) continue;
                    const float value =
                        luminance(traced.colour[static_cast<std::size_t>(j) * static_cast<std::size_t>(traced.width) +
                                                static_cast<std::size_t>(i)]);
                    std::size_t at = count++;
                    for (; at > 0 && near[at - 1] > value; --at) near[at] = near[at - 1];
                    near[at] = value;
                }
            }
            const float top = 1.2f * near[count / 2];  // several such pixels may touch
            if (level <= top) continue;
            colour[own] = traced.colour[own] * (top / level);
            traced.variance[own] *= (top / level) * (top / level);
        }
    });
    traced.colour = std::move(colour);
}

float tent(float r) { return r < 0.5f ? std::sqrt(2 * r) - 1 : 1 - std::sqrt(2 - 2 * r); }

}  // namespace

int threadCount(int wished) {
    return wished > 0 ? wished : std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
}

void parallelFor(int count, int threads, const std::function<void(int)>& work) {
    std::atomic<int> next{0};
    std::exception_ptr failure;
    std::mutex guard;
    const auto run = [&] {
        for (int i = next++; i < count; i = next++) {
            try {
                work(i);
            } catch (...) {
                const std::lock_guard lock(guard);
                failure = std::current_exception();
                next = count;
            }
        }
    };
    std::vector<std::thread> others;
    for (int i = 1; i < std::min(threads, count); ++i) others.emplace_back(run);
    run();
    for (std::thread& thread : others) thread.join();
    if (failure) std::rethrow_exception(failure);
}

namespace {

/// What all pixels of a picture share.
struct TraceTask {
    int samples = 1;
    std::uint64_t seed = 0;
    float meter = 1;
};

/// The rays of a camera: through the lens, in focus at its distance.
class Lens {
public:
    explicit Lens(const Camera& camera)
        : camera_(camera),
          right_(asVec(camera.right)),
          down_(asVec(camera.down)),
          forward_(cross(right_, down_)),
          eye_(asVec(camera.origin)) {}

    Ray centre(double px, double py) const { return {eye_, asVec(camera_.direction({px, py}))}; }
    Ray through(double px, double py, const PathNumbers& numbers) const {
        Ray ray = centre(px, py);
        if (camera_.lensRadius <= 0) return ray;
        const Vec focus =
            eye_ + ray.direction * (static_cast<float>(camera_.focusDistance) / dot(ray.direction, forward_));
        const float r = static_cast<float>(camera_.lensRadius) * std::sqrt(numbers.sequence.at(numbers.index, 2)),
                    a = 2 * kPiF * numbers.sequence.at(numbers.index, 3);
        ray.origin = eye_ + right_ * (r * std::cos(a)) + down_ * (r * std::sin(a));
        ray.direction = normalize(focus - ray.origin);
        return ray;
    }
    const Camera& camera() const { return camera_; }

private:
    const Camera& camera_;
    Vec right_, down_, forward_, eye_;
};

/// A coarse look at the picture, as a light meter takes it.
struct CoarseLook {
    static constexpr int kColumns = 64, kRows = 48;
    std::vector<float> light;           ///< mean of a few paths, by cell
    std::vector<std::uint8_t> onTeeth;  ///< whether the cell's middle shows a tooth
    static std::size_t at(int x, int y) { return static_cast<std::size_t>(y * kColumns + x); }
};
CoarseLook lookCoarsely(const Paths& paths, const Lens& lens, std::uint64_t seed, int threads) {
    constexpr int kSamples = 4;
    CoarseLook look;
    look.light.resize(static_cast<std::size_t>(CoarseLook::kColumns * CoarseLook::kRows));
    look.onTeeth.resize(look.light.size());
    parallelFor(CoarseLook::kRows, threads, [&](int y) {
        for (int x = 0; x < CoarseLook::kColumns; ++x) {
            const std::size_t at = CoarseLook::at(x, y);
            const std::uint64_t own = splitMix(seed * 0x2545f4914f6cdd1dull + static_cast<std::uint64_t>(at));
            const Sequence sequence(own);
            PixelRandom random(own);
            Feature unused;
            const double px = (x + 0.5) * lens.camera().widthPx / CoarseLook::kColumns,
                         py = (y + 0.5) * lens.camera().heightPx / CoarseLook::kRows;
            float sum = 0;
            for (int i = 0; i < kSamples; ++i) {
                const PathNumbers numbers{sequence, i, random};
                sum += luminance(paths.radiance(lens.through(px, py, numbers), 1e3f, numbers, unused));
            }
            look.light[at] = sum / kSamples;
            const Ray ray = lens.centre(px, py);
            const auto hit = paths.world().intersect(ray.origin, ray.direction);
            look.onTeeth[at] = hit && hit->isTooth ? 1 : 0;
        }
    });
    return look;
}

/// The mean light. The middle counts more, and the teeth: that is where the finger taps.
float meterOf(const CoarseLook& look) {
    double weighted = 0, weights = 0;
    std::vector<float> teethLight;
    for (int y = 0; y < CoarseLook::kRows; ++y) {
        for (int x = 0; x < CoarseLook::kColumns; ++x) {
            const double dx = (x + 0.5) / CoarseLook::kColumns - 0.5, dy = (y + 0.5) / CoarseLook::kRows - 0.5;
            const std::size_t at = CoarseLook::at(x, y);
            const bool teeth = look.onTeeth[at] != 0;
            const double w = std::exp(-(dx * dx + dy * dy) / 0.1) * (teeth ? 4 : 1);
            weighted += w * std::log(static_cast<double>(look.light[at]) + 1e-3);
            weights += w;
            if (teeth && w > 1) teethLight.push_back(look.light[at]);
        }
    }
    auto meter = static_cast<float>(std::exp(weighted / weights));
    if (teethLight.size() > 20) {
        // Not so long an exposure that most of the lit teeth burn out.
        constexpr float kBrightTeeth = 7;  // their brightest fifth, times the meter
        const auto bright = teethLight.begin() + static_cast<std::ptrdiff_t>(teethLight.size() * 4 / 5);
        std::nth_element(teethLight.begin(), bright, teethLight.end());
        meter = std::max(meter, *bright / kBrightTeeth);
    }
    return meter;
}

/// One pixel. Its filter is a tent over two pixels; the path of a shaking hand goes along with it.
void tracePixel(Traced& traced, int x, int y, const Paths& paths, const Lens& lens, const TraceTask& task) {
    const auto pixel =
        static_cast<std::size_t>(y) * static_cast<std::size_t>(traced.width) + static_cast<std::size_t>(x);
    const Camera& camera = lens.camera();
    const std::uint64_t own = splitMix(task.seed * 0x9e3779b97f4a7c15ull + pixel);
    const Sequence sequence(own);
    PixelRandom random(own ^ 0x5851f42d4c957f2dull);
    Vec sum;
    Feature mean;
    float squares = 0;
    for (int i = 0; i < task.samples; ++i) {
        const double time = random.uniform() - 0.5;
        const PathNumbers numbers{sequence, i, random};
        Feature feature;
        const Ray ray = lens.through(x + 0.5 + tent(sequence.at(i, 0)) + camera.shakePx.x() * time,
                                     y + 0.5 + tent(sequence.at(i, 1)) + camera.shakePx.y() * time, numbers);
        const Vec value = paths.radiance(ray, task.meter, numbers, feature);
        sum += value;
        squares += luminance(value) * luminance(value);
        mean.colour += feature.colour;
        mean.normal += feature.normal;
        mean.distance += feature.distance;
    }
    const float n = static_cast<float>(task.samples);
    traced.colour[pixel] = sum / n;
    const float level = luminance(sum) / n;
    traced.variance[pixel] = std::max(0.0f, squares / n - level * level) / n;
    traced.feature[pixel] = {mean.colour / n, mean.normal / n, mean.distance / n};
}

}  // namespace

Radiance trace(const World& world, const Looks& looks, const Camera& camera, int samples, std::uint64_t seed,
               int threads) {
    const Paths paths(world, looks, static_cast<float>(1 / camera.focalPx));
    const Lens lens(camera);
    const float meter = meterOf(lookCoarsely(paths, lens, seed, threads));
    const TraceTask task{.samples = samples, .seed = seed, .meter = meter};

    Traced traced;
    traced.width = camera.widthPx;
    traced.height = camera.heightPx;
    const auto pixels = static_cast<std::size_t>(traced.width) * static_cast<std::size_t>(traced.height);
    traced.colour.resize(pixels);
    traced.feature.resize(pixels);
    traced.variance.resize(pixels);
    parallelFor(traced.height, threads, [&](int y) {
        for (int x = 0; x < traced.width; ++x) tracePixel(traced, x, y, paths, lens, task);
    });
    calmOutliers(traced, threads);
    for (const int step : {1, 3}) smooth(traced, step, meter, threads);
    Radiance result;
    result.width = traced.width;
    result.height = traced.height;
    result.rgb.reserve(3 * pixels);
    for (const Vec& c : traced.colour) result.rgb.insert(result.rgb.end(), {c.x, c.y, c.z});
    result.meter = meter;
    return result;
}

}  // namespace shimsight::render
