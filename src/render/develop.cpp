// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "render/develop.h"

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace shimsight::render {
namespace {

constexpr float kMiddleGrey = 0.22f;  ///< where the meter puts the picture's mean
constexpr float kSensorClip = 7.0f;   ///< sensor full at this many times white: a phone joins several exposures

float toneCurve(float x, float contrast) {
    // Shoulder for the highlights, then a gentle S about the middle in display values.
    constexpr float kWhite = 4.5f;
    const float shoulder = x * (1 + x / (kWhite * kWhite)) / (1 + 0.75f * x) * 1.12f;
    const float c = clamp01(shoulder);
    const float display = c <= 0.0031308f ? 12.92f * c : 1.055f * std::pow(c, 1 / 2.4f) - 0.055f;
    const float s = display * display * (3 - 2 * display);
    return clamp01(mix(display, s, 0.5f * contrast));
}

/// The light as the meter exposes it, mirrored where the camera does.
cv::Mat3f exposed(const Radiance& light, const Sensor& sensor) {
    cv::Mat3f image(light.height, light.width);
    for (int y = 0; y < light.height; ++y) {
        for (int x = 0; x < light.width; ++x) {
            const int from = sensor.mirrored ? light.width - 1 - x : x;
            const float* c = &light.rgb[3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(light.width) +
                                             static_cast<std::size_t>(from))];
            image(y, x) = {c[0], c[1], c[2]};
        }
    }
    const float gain = kMiddleGrey / std::max(1e-5f, light.meter) * static_cast<float>(std::exp2(sensor.exposureStops));
    image *= gain;
    return image;
}

/// Light spread wide by a lens that was touched with oily fingers.
cv::Mat3f withBloom(const cv::Mat3f& image, double bloom) {
    cv::Mat3f small, wide;
    const double scale = std::max(1.0, image.cols / 400.0);
    cv::resize(image, small, cv::Size(static_cast<int>(image.cols / scale), static_cast<int>(image.rows / scale)), 0, 0,
               cv::INTER_AREA);
    cv::min(small, cv::Scalar::all(30), small);
    cv::GaussianBlur(small, wide, cv::Size(0, 0), 9);
    cv::Mat3f narrow;
    cv::GaussianBlur(small, narrow, cv::Size(0, 0), 2);
    wide = 0.6 * wide + 0.4 * narrow;
    cv::resize(wide, wide, image.size(), 0, 0, cv::INTER_LINEAR);
    cv::Mat3f out;
    cv::addWeighted(image, 1 - bloom, wide, bloom, 0, out);
    return out;
}

/// Vignetting, colour, the sensor's end; shot and read noise.
void passSensor(cv::Mat3f& image, const Sensor& sensor, std::uint64_t seed) {
    const double half2 =
        0.25 * (static_cast<double>(image.cols) * image.cols + static_cast<double>(image.rows) * image.rows);
    const auto shot = static_cast<float>(0.0011 * sensor.noise),
               read = static_cast<float>(1.2e-5 * sensor.noise * sensor.noise);
    cv::Mat3f grain(image.size());
    for (int y = 0; y < image.rows; ++y) {
        PixelRandom random(splitMix(seed + 0x51ed270b) + static_cast<std::uint64_t>(y));
        for (int x = 0; x < image.cols; ++x) {
            const double dx = x + 0.5 - 0.5 * image.cols, dy = y + 0.5 - 0.5 * image.rows;
            const double r2 = (dx * dx + dy * dy) / half2;
            const auto falloff = static_cast<float>(1 - sensor.vignette * r2 * (1.3 - 0.3 * r2));
            for (int k = 0; k < 3; ++k) {
                const float channelGain = k == 0   ? sensor.whiteBalance.x
                                          : k == 1 ? sensor.whiteBalance.y
                                                   : sensor.whiteBalance.z;
                const float value = std::min(image(y, x)[k] * falloff, kSensorClip);
                image(y, x)[k] = value * channelGain;
                // Sum of uniforms: near enough to normal, and cheap.
                const float normal =
                    (random.uniform() + random.uniform() + random.uniform() + random.uniform() - 2) * 1.732f;
                grain(y, x)[k] = normal * std::sqrt(shot * value + read) * channelGain;
            }
        }
    }
    // Demosaicking and the phone's own smoothing tie neighbouring grains together.
    cv::GaussianBlur(grain, grain, cv::Size(0, 0), 0.65);
    image += grain;
}

/// Colours as a screen shows them, 0..1.
cv::Mat3f toneMapped(const cv::Mat3f& image, const Sensor& sensor) {
    cv::Mat3f display(image.size());
    const auto contrast = static_cast<float>(sensor.contrast), saturation = static_cast<float>(sensor.saturation);
    for (int y = 0; y < image.rows; ++y) {
        for (int x = 0; x < image.cols; ++x) {
            const cv::Vec3f& c = image(y, x);
            const Vec linear{std::max(0.0f, c[0]), std::max(0.0f, c[1]), std::max(0.0f, c[2])};
            const float grey = luminance(linear);
            const Vec vivid = mix(Vec{grey, grey, grey}, linear, saturation);
            display(y, x) = {toneCurve(std::max(0.0f, vivid.x), contrast), toneCurve(std::max(0.0f, vivid.y), contrast),
                             toneCurve(std::max(0.0f, vivid.z), contrast)};
        }
    }
    return display;
}

/// The phone smooths colour noise hard and sharpens brightness.
void sharpen(cv::Mat3f& display, double sharpening) {
    cv::Mat3f ycc;
    cv::cvtColor(display, ycc, cv::COLOR_RGB2YCrCb);
    std::vector<cv::Mat1f> planes(3);
    cv::split(ycc, planes);
    cv::GaussianBlur(planes[1], planes[1], cv::Size(0, 0), 1.0);
    cv::GaussianBlur(planes[2], planes[2], cv::Size(0, 0), 1.0);
    cv::Mat1f soft;
    cv::GaussianBlur(planes[0], soft, cv::Size(0, 0), 1.1);
    planes[0] = planes[0] + (planes[0] - soft) * sharpening;
    cv::merge(planes, ycc);
    cv::cvtColor(ycc, display, cv::COLOR_YCrCb2RGB);
}

}  // namespace

Sensor drawSensor(Random& random, double variety) {
    Sensor sensor;
    sensor.exposureStops = random.normal(0, 0.35) * variety;
    sensor.vignette = random.uniform(0.05, 0.2 + 0.2 * variety);
    sensor.noise = std::exp(random.normal(-0.3, 0.6)) * std::min(1.0, 0.3 + 0.7 * variety);
    sensor.contrast = random.uniform(0.5, 1.3);
    sensor.saturation = random.uniform(0.92, 1.22);
    sensor.sharpening = random.uniform(0.1, 0.7);
    sensor.bloom = random.uniform(0.005, 0.02 + 0.03 * variety);
    return sensor;
}

Picture develop(const Radiance& light, const Sensor& sensor, std::uint64_t seed) {
    cv::Mat3f image = withBloom(exposed(light, sensor), sensor.bloom);
    passSensor(image, sensor, seed);
    cv::Mat3f display = toneMapped(image, sensor);
    sharpen(display, sensor.sharpening);

    Picture picture;
    picture.width = light.width;
    picture.height = light.height;
    picture.rgb.resize(3 * static_cast<std::size_t>(light.width) * static_cast<std::size_t>(light.height));
    std::size_t at = 0;
    for (int y = 0; y < display.rows; ++y) {
        for (int x = 0; x < display.cols; ++x) {
            for (int k = 0; k < 3; ++k)
                picture.rgb[at++] = static_cast<std::uint8_t>(std::lround(255 * clamp01(display(y, x)[k])));
        }
    }
    return picture;
}

}  // namespace shimsight::render
