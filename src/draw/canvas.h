// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// Drawing on an RGB picture: smooth lines with a halo, filled shapes, text.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/photo.h"
#include "shimsight/rectify.h"

namespace shimsight::draw {

using Ink = std::array<std::uint8_t, 3>;

// Okabe and Ito's colours, and greys.
inline constexpr Ink kBlack{0, 0, 0}, kWhite{255, 255, 255}, kOrange{230, 159, 0}, kSkyBlue{86, 180, 233},
    kGreen{0, 158, 115}, kBlue{0, 114, 178}, kVermilion{213, 94, 0}, kPurple{204, 121, 167}, kPaper{250, 250, 248},
    kText{28, 32, 36}, kDim{92, 98, 104};

enum class Weight { Regular, Bold };
enum class Align { Left, Centre, Right };

struct TextStyle {
    double sizePx = 24;  ///< height of the font's em
    Ink ink = kText;
    Weight weight = Weight::Regular;
    double haloPx = 0;  ///< 0: none
    Ink halo = kBlack;
    Align align = Align::Left;
};

struct LineStyle {
    Ink ink = kWhite;
    double widthPx = 2;
    double haloPx = 1.5;  ///< dark border on each side
    Ink halo{20, 20, 20};
    double dashPx = 0, gapPx = 0;  ///< 0: solid
};

double textWidth(std::string_view utf8, double sizePx, Weight weight = Weight::Regular);

/// Lines of at most `widthPx`, broken at spaces.
std::vector<std::string> wrapText(std::string_view utf8, double sizePx, double widthPx,
                                  Weight weight = Weight::Regular);

class Canvas {
public:
    Canvas(int width, int height, Ink background);
    explicit Canvas(Picture picture) : picture_(std::move(picture)) {}

    int width() const { return picture_.width; }
    int height() const { return picture_.height; }
    const Picture& picture() const { return picture_; }
    Picture take() { return std::move(picture_); }

    void blend(int x, int y, Ink ink, double share);
    /// `baseline`: y of the letters' foot; x is the left end, the middle or the right end as `style.align` says.
    void text(double x, double baseline, std::string_view utf8, const TextStyle& style);
    void line(const std::vector<PixelPoint>& points, const LineStyle& style, bool closed = false);
    void disc(PixelPoint centre, double radius, Ink ink, double opacity = 1);
    void paste(const Picture& other, int left, int top);

private:
    Picture picture_;
};

}  // namespace shimsight::draw
