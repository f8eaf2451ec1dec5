// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What the tests of the networks share: reading a parity case and asking OpenCV.
#pragma once

#include <catch2/catch.hpp>
#include <fstream>
#include <opencv2/core.hpp>
#include <opencv2/dnn.hpp>
#include <string>
#include <vector>

/// The whole file as `count` values; anything more or less fails the test.
template <typename T>
std::vector<T> readAll(const std::string& file, std::size_t count) {
    std::vector<T> values(count);
    std::ifstream in(file, std::ios::binary);
    in.read(reinterpret_cast<char*>(values.data()), static_cast<std::streamsize>(count * sizeof(T)));
    REQUIRE(in);
    REQUIRE(in.peek() == std::char_traits<char>::eof());
    return values;
}

/// The network's output for an RGB picture.
inline cv::Mat answerOf(const std::string& onnxFile, const std::vector<unsigned char>& rgb, int width, int height) {
    cv::dnn::Net net = cv::dnn::readNetFromONNX(onnxFile);
    net.setPreferableBackend(cv::dnn::DNN_BACKEND_OPENCV);
    const cv::Mat picture(height, width, CV_8UC3, const_cast<unsigned char*>(rgb.data()));
    net.setInput(cv::dnn::blobFromImage(picture, 1 / 127.5, cv::Size(), cv::Scalar::all(127.5), false, false));
    return net.forward().clone();
}
