#include "shimsight/photo.h"

#include "shimsight/lesson.h"
#include "shimsight/render.h"

namespace shimsight {

std::vector<std::uint8_t> benchPhoto(const ToothContact& contact, const Bench& bench, Side faced, std::uint64_t seed) {
    RenderRequest request;
    request.error = bench.error;
    request.modification = bench.modification;
    request.filmMm = bench.filmMm;
    request.faced = faced;
    request.widthPx = 960;
    request.heightPx = 640;
    request.variety = 0.3;  // a tidy bench: the mark is the lesson, not the photo
    request.seed = seed;
    constexpr int kQuality = 82;
    return encodeJpeg(renderPhoto(contact, request).picture, kQuality);
}

}  // namespace shimsight
