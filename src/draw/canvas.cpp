// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "draw/canvas.h"

#include <ft2build.h>

#include "draw/embedded.h"
#include "shimsight/core.h"
#include FT_FREETYPE_H

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>
#include <string>
#include <string_view>

namespace shimsight::draw {
namespace {

/// One font face. A face is not safe to share between threads: each thread has its own.
class Face {
public:
    explicit Face(std::string_view file) {
        const std::string_view bytes = embeddedFile(embeddedFiles(), file);
        check(FT_Init_FreeType(&library_) == 0, "FreeType does not start");
        check(FT_New_Memory_Face(library_, reinterpret_cast<const FT_Byte*>(bytes.data()),
                                 static_cast<FT_Long>(bytes.size()), 0, &face_) == 0,
              "the font in the program cannot be read");
    }
    Face(const Face&) = delete;
    Face& operator=(const Face&) = delete;
    ~Face() {
        FT_Done_Face(face_);
        FT_Done_FreeType(library_);
    }
    FT_Face get() const { return face_; }

private:
    FT_Library library_ = nullptr;
    FT_Face face_ = nullptr;
};

FT_Face faceAt(Weight weight, double sizePx) {
    thread_local const Face regular("DejaVuSans.ttf"), bold("DejaVuSans-Bold.ttf");
    const FT_Face face = (weight == Weight::Bold ? bold : regular).get();
    FT_Set_Char_Size(face, 0, static_cast<FT_F26Dot6>(std::lround(sizePx * 64)), 72, 72);
    return face;
}

/// Code points of UTF-8 text; a broken byte becomes U+FFFD.
std::vector<char32_t> codePoints(std::string_view text) {
    std::vector<char32_t> out;
    for (std::size_t i = 0; i < text.size();) {
        const auto byte = static_cast<unsigned char>(text[i]);
        const std::size_t length = byte < 0x80 ? 1 : byte >> 5 == 6 ? 2 : byte >> 4 == 14 ? 3 : byte >> 3 == 30 ? 4 : 0;
        if (length == 0 || i + length > text.size()) {
            out.push_back(0xFFFD);
            ++i;
            continue;
        }
        char32_t code = length == 1 ? byte : static_cast<char32_t>(byte & (0xFFU >> (length + 1)));
        bool whole = true;
        for (std::size_t k = 1; k < length; ++k) {
            const auto next = static_cast<unsigned char>(text[i + k]);
            whole = whole && next >> 6 == 2;
            code = (code << 6) | (next & 0x3FU);
        }
        out.push_back(whole ? code : 0xFFFD);
        i += whole ? length : 1;
    }
    return out;
}

cv::Mat asMat(Picture& picture) { return {picture.height, picture.width, CV_8UC3, picture.rgb.data()}; }

/// Fixed-point position for OpenCV's drawing, whose pixel centres lie on whole numbers.
constexpr int kShift = 4;
cv::Point fixed(PixelPoint p) {
    return {static_cast<int>(std::lround((p.x - 0.5) * (1 << kShift))),
            static_cast<int>(std::lround((p.y - 0.5) * (1 << kShift)))};
}

std::vector<std::vector<PixelPoint>> dashes(const std::vector<PixelPoint>& points, double dash, double gap) {
    std::vector<std::vector<PixelPoint>> out;
    bool on = true;
    double left = dash;
    std::vector<PixelPoint> current{points.front()};
    for (std::size_t k = 1; k < points.size(); ++k) {
        PixelPoint from = points[k - 1];
        double length = std::hypot(points[k].x - from.x, points[k].y - from.y);
        while (length > left) {
            const double w = left / length;
            const PixelPoint at{from.x + w * (points[k].x - from.x), from.y + w * (points[k].y - from.y)};
            if (on) {
                current.push_back(at);
                out.push_back(current);
            }
            on = !on;
            current = {at};
            length -= left;
            from = at;
            left = on ? dash : gap;
        }
        left -= length;
        if (on) current.push_back(points[k]);
    }
    if (on && current.size() > 1) out.push_back(current);
    return out;
}

}  // namespace

double textWidth(std::string_view utf8, double sizePx, Weight weight) {
    const FT_Face face = faceAt(weight, sizePx);
    double width = 0;
    for (const char32_t code : codePoints(utf8))
        if (FT_Load_Char(face, code, FT_LOAD_DEFAULT) == 0) width += static_cast<double>(face->glyph->advance.x) / 64;
    return width;
}

std::vector<std::string> wrapText(std::string_view utf8, double sizePx, double widthPx, Weight weight) {
    std::vector<std::string> out;
    std::string line;
    for (std::size_t i = 0; i < utf8.size();) {
        std::size_t end = utf8.find(' ', i);
        if (end == std::string_view::npos) end = utf8.size();
        const std::string word(utf8.substr(i, end - i));
        const std::string longer = line.empty() ? word : line + " " + word;
        if (!line.empty() && textWidth(longer, sizePx, weight) > widthPx) {
            out.push_back(line);
            line = word;
        } else {
            line = longer;
        }
        i = end + 1;
    }
    if (!line.empty()) out.push_back(line);
    return out;
}

Canvas::Canvas(int width, int height, Ink background) {
    check(width > 0 && height > 0, "a canvas needs a size");
    picture_.width = width;
    picture_.height = height;
    picture_.rgb.resize(static_cast<std::size_t>(width) * static_cast<std::size_t>(height) * 3);
    for (std::size_t i = 0; i < picture_.rgb.size(); ++i) picture_.rgb[i] = background[i % 3];
}

void Canvas::blend(int x, int y, Ink ink, double share) {
    if (x < 0 || y < 0 || x >= picture_.width || y >= picture_.height || share <= 0) return;
    std::uint8_t* p =
        picture_.rgb.data() +
        3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(picture_.width) + static_cast<std::size_t>(x));
    const double s = std::min(1.0, share);
    for (std::size_t c = 0; c < 3; ++c) p[c] = static_cast<std::uint8_t>(std::lround((1 - s) * p[c] + s * ink[c]));
}

void Canvas::text(double x, double baseline, std::string_view utf8, const TextStyle& style) {
    if (utf8.empty()) return;
    const double width = textWidth(utf8, style.sizePx, style.weight);
    const double left = style.align == Align::Left ? x : style.align == Align::Centre ? x - width / 2 : x - width;
    // Step 1: the letters as a mask, with room for the halo.
    const int margin = static_cast<int>(std::ceil(style.haloPx)) + 2;
    const int originX = static_cast<int>(std::floor(left)) - margin,
              originY = static_cast<int>(std::floor(baseline - 1.1 * style.sizePx)) - margin;
    cv::Mat1b mask(static_cast<int>(std::ceil(1.5 * style.sizePx)) + 2 * margin,
                   static_cast<int>(std::ceil(width + style.sizePx)) + 2 * margin, static_cast<std::uint8_t>(0));
    const FT_Face face = faceAt(style.weight, style.sizePx);
    double pen = left - originX;
    for (const char32_t code : codePoints(utf8)) {
        if (FT_Load_Char(face, code, FT_LOAD_RENDER) != 0) continue;
        const FT_GlyphSlot glyph = face->glyph;
        const int gx = static_cast<int>(std::lround(pen)) + glyph->bitmap_left;
        const int gy = static_cast<int>(std::lround(baseline)) - originY - glyph->bitmap_top;
        for (int row = 0; row < static_cast<int>(glyph->bitmap.rows); ++row)
            for (int column = 0; column < static_cast<int>(glyph->bitmap.width); ++column) {
                const int px = gx + column, py = gy + row;
                if (px < 0 || py < 0 || px >= mask.cols || py >= mask.rows) continue;
                mask(py, px) = std::max(mask(py, px), glyph->bitmap.buffer[row * glyph->bitmap.pitch + column]);
            }
        pen += static_cast<double>(glyph->advance.x) / 64;
    }
    // Step 2: halo, then letters.
    if (style.haloPx > 0) {
        const int radius = std::max(1, static_cast<int>(std::lround(style.haloPx)));
        cv::Mat1b halo;
        cv::dilate(mask, halo, cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * radius + 1, 2 * radius + 1)));
        cv::GaussianBlur(halo, halo, cv::Size(), 0.6);
        for (int yy = 0; yy < halo.rows; ++yy)
            for (int xx = 0; xx < halo.cols; ++xx)
                blend(originX + xx, originY + yy, style.halo, 0.85 * halo(yy, xx) / 255.0);
    }
    for (int yy = 0; yy < mask.rows; ++yy)
        for (int xx = 0; xx < mask.cols; ++xx) blend(originX + xx, originY + yy, style.ink, mask(yy, xx) / 255.0);
}

void Canvas::line(const std::vector<PixelPoint>& points, const LineStyle& style, bool closed) {
    if (points.size() < 2) return;
    std::vector<PixelPoint> path = points;
    if (closed) path.push_back(points.front());
    const auto parts =
        style.dashPx > 0 ? dashes(path, style.dashPx, style.gapPx) : std::vector<std::vector<PixelPoint>>{path};
    cv::Mat mat = asMat(picture_);
    for (const bool halo : {true, false}) {
        if (halo && style.haloPx <= 0) continue;
        const int width =
            std::max(1, static_cast<int>(std::lround(halo ? style.widthPx + 2 * style.haloPx : style.widthPx)));
        const Ink ink = halo ? style.halo : style.ink;
        for (const auto& part : parts) {
            std::vector<cv::Point> fixedPart;
            for (const auto& p : part) fixedPart.push_back(fixed(p));
            cv::polylines(mat, fixedPart, false, cv::Scalar(ink[0], ink[1], ink[2]), width, cv::LINE_AA, kShift);
        }
    }
}

void Canvas::disc(PixelPoint centre, double radius, Ink ink, double opacity) {
    for (int y = static_cast<int>(std::floor(centre.y - radius - 1)); y <= std::ceil(centre.y + radius + 1); ++y)
        for (int x = static_cast<int>(std::floor(centre.x - radius - 1)); x <= std::ceil(centre.x + radius + 1); ++x)
            blend(x, y, ink,
                  opacity * std::clamp(radius + 0.5 - std::hypot(x + 0.5 - centre.x, y + 0.5 - centre.y), 0.0, 1.0));
}

void Canvas::paste(const Picture& other, int left, int top) {
    for (int y = 0; y < other.height; ++y) {
        if (y + top < 0 || y + top >= picture_.height) continue;
        const int first = std::max(0, -left), last = std::min(other.width, picture_.width - left);
        if (last <= first) continue;
        const auto* from = other.rgb.data() + 3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(other.width) +
                                                   static_cast<std::size_t>(first));
        auto* to =
            picture_.rgb.data() + 3 * (static_cast<std::size_t>(y + top) * static_cast<std::size_t>(picture_.width) +
                                       static_cast<std::size_t>(left + first));
        std::copy(from, from + 3 * static_cast<std::ptrdiff_t>(last - first), to);
    }
}

}  // namespace shimsight::draw

namespace shimsight {

Picture shrunkTo(const Picture& picture, int longest) {
    const int longSide = std::max(picture.width, picture.height);
    if (longest <= 0 || longSide <= longest) return picture;
    Picture out;
    const double scale = longest / static_cast<double>(longSide);
    out.width = std::max(1, static_cast<int>(std::lround(picture.width * scale)));
    out.height = std::max(1, static_cast<int>(std::lround(picture.height * scale)));
    out.rgb.resize(static_cast<std::size_t>(out.width) * static_cast<std::size_t>(out.height) * 3);
    const cv::Mat from(picture.height, picture.width, CV_8UC3, const_cast<std::uint8_t*>(picture.rgb.data()));
    cv::Mat to = draw::asMat(out);
    cv::resize(from, to, to.size(), 0, 0, cv::INTER_AREA);
    return out;
}

}  // namespace shimsight
