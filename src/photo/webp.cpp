// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <webp/decode.h>
#include <webp/demux.h>

#include <memory>

#include "photo/decoders.h"
#include "shimsight/core.h"

namespace shimsight::codec {
namespace {

using Demuxer = std::unique_ptr<WebPDemuxer, decltype(&WebPDemuxDelete)>;

/// The file's parts. Also notices a file that is cut after the picture, where the decoder does not look.
Demuxer partsOf(Bytes bytes) {
    const WebPData data{bytes.data(), bytes.size()};
    Demuxer demuxer(WebPDemux(&data), &WebPDemuxDelete);
    if (!demuxer) refuseDamaged("WebP");
    return demuxer;
}

/// The EXIF block, if the file has one.
Exif readExifChunk(const Demuxer& demuxer) {
    WebPChunkIterator chunk;
    if (WebPDemuxGetChunk(demuxer.get(), "EXIF", 1, &chunk) == 0) return {};
    Exif exif = readExif({chunk.chunk.bytes, chunk.chunk.size});
    WebPDemuxReleaseChunkIterator(&chunk);
    return exif;
}

/// The coded picture alone: left to itself the decoder reads on behind a chunk that says too small a size.
Bytes pictureIn(const Demuxer& demuxer) {
    WebPIterator frame;
    if (WebPDemuxGetFrame(demuxer.get(), 1, &frame) == 0) refuseDamaged("WebP");
    const Bytes picture{frame.fragment.bytes, frame.fragment.size};
    WebPDemuxReleaseIterator(&frame);
    return picture;
}

}  // namespace

Header headerOfWebP(Bytes bytes) {
    const Demuxer parts = partsOf(bytes);
    return {static_cast<int>(WebPDemuxGetI(parts.get(), WEBP_FF_CANVAS_WIDTH)),
            static_cast<int>(WebPDemuxGetI(parts.get(), WEBP_FF_CANVAS_HEIGHT)), readExifChunk(parts)};
}

Decoded decodeWebP(Bytes bytes, const DecodeOptions& options) {
    WebPBitstreamFeatures features;
    if (WebPGetFeatures(bytes.data(), bytes.size(), &features) != VP8_STATUS_OK) refuseDamaged("WebP");
    checkSize(features.width, features.height, options.limits);
    if (features.has_animation != 0) throw InputError(message("photo.animation"));

    Decoded decoded;
    decoded.fullWidth = features.width;
    decoded.fullHeight = features.height;
    const Demuxer parts = partsOf(bytes);
    decoded.exif = readExifChunk(parts);
    const Bytes coded = pictureIn(parts);
    const std::size_t channels = features.has_alpha != 0 ? 4 : 3;
    const std::size_t stride = channels * static_cast<std::size_t>(features.width);
    std::vector<std::uint8_t> pixels(stride * static_cast<std::size_t>(features.height));
    const auto decodeInto = features.has_alpha != 0 ? &WebPDecodeRGBAInto : &WebPDecodeRGBInto;
    if (decodeInto(coded.data(), coded.size(), pixels.data(), pixels.size(), static_cast<int>(stride)) == nullptr) {
        refuseDamaged("WebP");
    }
    if (features.has_alpha != 0) {
        decoded.picture = onWhite(pixels.data(), stride, features.width, features.height);
    } else {
        decoded.picture = Picture{features.width, features.height, std::move(pixels)};
    }
    return decoded;
}

}  // namespace shimsight::codec
