#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <opencv2/core.hpp>
#include <opencv2/dnn.hpp>
#include <string>
#include <vector>

namespace {

const std::string kFolder = std::string(SHIMSIGHT_SOURCE_DIR) + "/models/mark-reader/";

constexpr int kWidth = 192, kHeight = 96, kPlanes = 9;

template <typename T>
std::vector<T> readAll(const std::string& name, std::size_t count) {
    std::vector<T> values(count);
    std::ifstream in(kFolder + name, std::ios::binary);
    in.read(reinterpret_cast<char*>(values.data()), static_cast<std::streamsize>(count * sizeof(T)));
    REQUIRE(in);
    REQUIRE(in.peek() == std::char_traits<char>::eof());
    return values;
}

cv::Mat answer(const std::vector<unsigned char>& rgb) {
    cv::dnn::Net net = cv::dnn::readNetFromONNX(kFolder + "mark-reader.onnx");
    net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    const cv::Mat picture(kHeight, kWidth, CV_8UC3, const_cast<unsigned char*>(rgb.data()));
    net.setInput(cv::dnn::blobFromImage(picture, 1 / 127.5, cv::Size(), cv::Scalar::all(127.5), false, false));
    return net.forward().clone();
}

}  // namespace

TEST_CASE("OpenCV gives for a flank what the training framework gave", "[models]") {
    const auto rgb = readAll<unsigned char>("parity/input.rgb", 3u * kWidth * kHeight);
    constexpr std::size_t kCount = static_cast<std::size_t>(kPlanes) * (kHeight / 2) * (kWidth / 2);
    const auto expected = readAll<float>("parity/output.f32", kCount);
    const cv::Mat planes = answer(rgb);
    REQUIRE(planes.total() == kCount);
    float worst = 0, largest = 0;
    for (std::size_t k = 0; k < kCount; ++k) {
        worst = std::max(worst, std::abs(planes.ptr<float>()[k] - expected[k]));
        largest = std::max(largest, std::abs(expected[k]));
    }
    INFO("largest difference " << worst << ", largest value " << largest);
    REQUIRE(largest > 1);  // a case with something in it
    CHECK(worst < 1e-3f);  // single precision through some forty layers
    auto turned = rgb;
    std::reverse(turned.begin(), turned.end());
    CHECK(std::abs(answer(turned).ptr<float>()[0] - expected[0]) > 1e-3f);
}

TEST_CASE("both networks together are as small as promised", "[models]") {
    CHECK(std::filesystem::file_size(kFolder + "mark-reader.onnx") +
              std::filesystem::file_size(kFolder + "../flank-finder/flank-finder.onnx") <
          8u * 1024 * 1024);
}
