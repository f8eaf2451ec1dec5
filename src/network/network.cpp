// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "shimsight/network.h"

#include <array>
#include <memory>
#include <mutex>
#include <opencv2/core.hpp>
#include <opencv2/dnn.hpp>
#include <opencv2/dnn/layer.hpp>
#include <string_view>

#include "network/embedded.h"
#include "shimsight/core.h"

namespace shimsight::network {
namespace {

/// Photos are read side by side, which pays more than sharing out one of them; so OpenCV's own threads are off. Before
/// main: cv::setNumThreads takes OpenCV's threads down, and whichever thread is in one of its loops then crashes or
/// waits for ever.
[[maybe_unused]] const bool kOneThread = [] {
    cv::setNumThreads(1);
    return true;
}();

/// Copies of one network: those in use are with their threads, the others wait here.
struct Pool {
    std::string_view onnx;
    std::mutex guard;
    std::vector<std::unique_ptr<cv::dnn::Net>> idle;
    std::size_t loaded = 0;

    explicit Pool(std::string_view bytes) : onnx(bytes) {}

    std::unique_ptr<cv::dnn::Net> take() {
        {
            const std::lock_guard lock(guard);
            if (!idle.empty()) {
                auto net = std::move(idle.back());
                idle.pop_back();
                return net;
            }
            ++loaded;
        }
        auto net = std::make_unique<cv::dnn::Net>(cv::dnn::readNetFromONNX(onnx.data(), onnx.size()));
        net->setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
        return net;
    }
    void giveBack(std::unique_ptr<cv::dnn::Net> net) {
        const std::lock_guard lock(guard);
        idle.push_back(std::move(net));
    }
};

Pool& poolOf(Trained which) {
    static std::array<Pool, 2> pools = [] {
        // OpenCV makes the lock of its table of layers at the first use, which must not be in two threads at once.
        (void)cv::dnn::LayerFactory::isLayerRegistered("Convolution");
        return std::array<Pool, 2>{Pool(embeddedFile(embeddedFiles(), "flank-finder.onnx")),
                                   Pool(embeddedFile(embeddedFiles(), "mark-reader.onnx"))};
    }();
    return pools[static_cast<std::size_t>(which)];
}

}  // namespace

std::vector<float> infer(Trained which, const Picture& picture) {
    const cv::Mat rgb(picture.height, picture.width, CV_8UC3, const_cast<std::uint8_t*>(picture.rgb.data()));
    Pool& pool = poolOf(which);
    auto net = pool.take();
    net->setInput(cv::dnn::blobFromImage(rgb, 1 / 127.5, cv::Size(), cv::Scalar::all(127.5), false, false));
    const cv::Mat planes = net->forward();
    check(planes.isContinuous(), "a network's output comes in one piece");
    std::vector<float> out(planes.ptr<float>(), planes.ptr<float>() + planes.total());
    pool.giveBack(std::move(net));
    return out;
}

std::size_t copiesLoaded(Trained which) {
    Pool& pool = poolOf(which);
    const std::lock_guard lock(pool.guard);
    return pool.loaded;
}

}  // namespace shimsight::network
