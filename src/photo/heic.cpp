// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include <libheif/heif.h>

#include <algorithm>
#include <cstring>
#include <memory>

#include "photo/decoders.h"
#include "shimsight/core.h"

namespace shimsight::codec {
namespace {

using Context = std::unique_ptr<heif_context, decltype(&heif_context_free)>;
using Handle = std::unique_ptr<heif_image_handle, decltype(&heif_image_handle_release)>;
using HeifImage = std::unique_ptr<heif_image, decltype(&heif_image_release)>;
using Options = std::unique_ptr<heif_decoding_options, decltype(&heif_decoding_options_free)>;

void refuseIfFailed(const heif_error& error) {
    if (error.code == heif_error_Ok) return;
    if (error.code == heif_error_Unsupported_feature || error.code == heif_error_Unsupported_filetype) {
        throw InputError(message("photo.heic-not-supported", error.message));
    }
    refuseDamaged("HEIC", error.message);
}

/// The camera's notes. The block begins with four bytes that say where the TIFF block starts after them.
CameraNotes readNotes(const heif_image_handle* handle, std::size_t fileBytes) {
    heif_item_id id = 0;
    if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) != 1) return {};
    const std::size_t size = heif_image_handle_get_metadata_size(handle, id);
    if (size < 4 || size > fileBytes) return {};
    std::vector<std::uint8_t> block(size);
    if (heif_image_handle_get_metadata(handle, id, block.data()).code != heif_error_Ok) return {};
    const std::size_t offset = bigEndian(block, 0, 4);
    if (offset > block.size() - 4) return {};
    return readExif(Bytes(block).subspan(4 + offset)).notes;
}

}  // namespace

Exif exifOfHeic(Bytes bytes) {
    const Context context(heif_context_alloc(), &heif_context_free);
    if (!context) throw std::bad_alloc();
    refuseIfFailed(heif_context_read_from_memory_without_copy(context.get(), bytes.data(), bytes.size(), nullptr));
    heif_image_handle* rawHandle = nullptr;
    refuseIfFailed(heif_context_get_primary_image_handle(context.get(), &rawHandle));
    const Handle handle(rawHandle, &heif_image_handle_release);
    Exif exif;
    exif.notes = readNotes(handle.get(), bytes.size());
    return exif;
}

Decoded decodeHeic(Bytes bytes, const DecodeOptions& options) {
    const Context context(heif_context_alloc(), &heif_context_free);
    if (!context) throw std::bad_alloc();
    // libheif bounds each side; the area is checked below, before anything is decoded.
    heif_context_set_maximum_image_size_limit(context.get(), options.limits.maxSide);
    refuseIfFailed(heif_context_read_from_memory_without_copy(context.get(), bytes.data(), bytes.size(), nullptr));
    heif_image_handle* rawHandle = nullptr;
    refuseIfFailed(heif_context_get_primary_image_handle(context.get(), &rawHandle));
    const Handle handle(rawHandle, &heif_image_handle_release);
    checkSize(heif_image_handle_get_ispe_width(handle.get()), heif_image_handle_get_ispe_height(handle.get()),
              options.limits);
    checkSize(heif_image_handle_get_width(handle.get()), heif_image_handle_get_height(handle.get()), options.limits);

    const Options decoding(heif_decoding_options_alloc(), &heif_decoding_options_free);
    if (!decoding) throw std::bad_alloc();
    decoding->convert_hdr_to_8bit = 1;
    decoding->strict_decoding = 1;
    const bool alpha = heif_image_handle_has_alpha_channel(handle.get()) != 0;
    heif_image* rawImage = nullptr;
    refuseIfFailed(heif_decode_image(handle.get(), &rawImage, heif_colorspace_RGB,
                                     alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB,
                                     decoding.get()));
    const HeifImage image(rawImage, &heif_image_release);
    heif_error warning{};
    if (heif_image_get_decoding_warnings(image.get(), 0, &warning, 1) > 0) refuseDamaged("HEIC", warning.message);

    int stride = 0;
    const std::uint8_t* pixels = heif_image_get_plane_readonly(image.get(), heif_channel_interleaved, &stride);
    if (pixels == nullptr) refuseDamaged("HEIC");
    Decoded decoded;
    // irot, imir and clap are applied by the library, so the picture's own size counts.
    decoded.fullWidth = heif_image_get_width(image.get(), heif_channel_interleaved);
    decoded.fullHeight = heif_image_get_height(image.get(), heif_channel_interleaved);
    checkSize(decoded.fullWidth, decoded.fullHeight, options.limits);
    decoded.exif.notes = readNotes(handle.get(), bytes.size());
    if (alpha) {
        decoded.picture = onWhite(pixels, static_cast<std::size_t>(stride), decoded.fullWidth, decoded.fullHeight);
        return decoded;
    }
    const std::size_t rowBytes = std::size_t{3} * static_cast<std::size_t>(decoded.fullWidth);
    decoded.picture = Picture{decoded.fullWidth, decoded.fullHeight, {}};
    decoded.picture.rgb.resize(rowBytes * static_cast<std::size_t>(decoded.fullHeight));
    for (int y = 0; y < decoded.fullHeight; ++y) {
        std::memcpy(decoded.picture.rgb.data() + static_cast<std::size_t>(y) * rowBytes,
                    pixels + static_cast<std::size_t>(y) * static_cast<std::size_t>(stride), rowBytes);
    }
    return decoded;
}

}  // namespace shimsight::codec
