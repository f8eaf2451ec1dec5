// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// A pinhole camera fitted to outlined flanks of a known gear set. Module `flank`.
#pragma once

#include <Eigen/Dense>
#include <array>
#include <optional>
#include <vector>

#include "shimsight/flank_surface.h"
#include "shimsight/rectify.h"

namespace shimsight::flank {

/// The gear set's working flank as a grid of points, kFlankGridU x kFlankGridV, index j * kFlankGridU + i with j
/// from the ROOT (v = j / 16, u = i / 32). Ring gear frame, mm, already mirrored for a left-hand set.
struct FlankGrid {
    std::vector<Eigen::Vector3d> points;
    double toothTurn = 0;  ///< rad about Z to the next tooth
    /// +1 when the corners toe-root, toe-tip, heel-tip, heel-root run clockwise in a picture of the flank, else -1.
    double windingInPicture = 1;
    const Eigen::Vector3d& at(int i, int j) const { return points[static_cast<std::size_t>(j * kFlankGridU + i)]; }
};

FlankGrid makeFlankGrid(const GearSet& gearSet, const Blank& blank, Side side);

struct Camera {
    Eigen::Matrix3d cameraFromGear = Eigen::Matrix3d::Identity();
    Eigen::Vector3d gearInCamera = Eigen::Vector3d::Zero();  ///< mm
    double focalPx = 0;
    PixelPoint centre;  ///< principal point
    double k1 = 0;      ///< radial distortion: x (1 + k1 r^2), r the tangent of the angle off the axis
    /// Where a point of the camera's own frame falls.
    std::optional<PixelPoint> projectSeen(const Eigen::Vector3d& inCamera) const;
    /// Not in front of the camera: nullopt.
    std::optional<PixelPoint> project(const Eigen::Vector3d& inGear) const;
};

/// One outlined flank for the fit: its grid and the tooth it is (turns of toothTurn).
struct OutlinedFlank {
    const FlankOutline* outline = nullptr;
    const FlankGrid* grid = nullptr;
    int tooth = 0;
};

struct CameraFit {
    Camera camera;
    std::vector<int> tooth;          ///< for each flank
    std::vector<double> residualPx;  ///< root mean square of each flank's points
};

/// Distortion of the lens that is expected, one sigma: phones correct their own to a few per cent at the corner of the
/// picture (r = 0.7: 0.04 r^2 is 2 % there).
inline constexpr double kLensSigma = 0.04;

/// Diagonal of the 36 x 24 mm film that cameras state their focal length for.
inline constexpr double kFilmDiagonalMm = 43.267;

/// The photo at full size; the principal point is taken at its middle.
struct PictureSize {
    int width = 0, height = 0;
    std::optional<double> focalPx;  ///< as the camera noted it
};

/// Camera from one flank alone (tooth 0), or nullopt when no camera in front of the flank explains the corners.
std::optional<CameraFit> fitCamera(const OutlinedFlank& flank, const PictureSize& size);

/// All cameras that one flank allows (a nearly flat patch has two poses, and the focal length is open), roughly fitted,
/// best first, each in front of the flank's metal. Empty where the corners are no flank's.
std::vector<CameraFit> camerasOf(const OutlinedFlank& flank, const PictureSize& size);

/// The camera that meets the points of these flanks, teeth numbered, best, from a start; rough.
CameraFit refinedCamera(const Camera& start, const std::vector<OutlinedFlank>& flanks, const PictureSize& size);

/// Whether the flank turns its metal outside to the camera.
bool facesCamera(const Camera& camera, const FlankGrid& grid, double turn);

/// One camera for several flanks: starts from the best single fit, numbers the teeth by it and refines together.
std::optional<CameraFit> fitCamera(const std::vector<OutlinedFlank>& flanks, const PictureSize& size);

/// The size with the focal length that the camera noted.
PictureSize pictureSize(const Photo& photo);

/// What is known of the focal length before a fit: the logarithm of its share of the picture's long side.
struct FocalPrior {
    double logMean = 0, logSigma = 1;
};

/// One sigma of the focal length's logarithm where the camera noted none: points set by hand.
inline constexpr double kFocalLogSigma = 0.35;

/// As the camera noted it, where that can be; else as phones have it, within `logSigma`.
FocalPrior focalPrior(const PictureSize& size, double logSigma = kFocalLogSigma);

/// The cameras that a fit moves among, x: rotation vector (3), shift of the pivot in distances (3), logarithm of the
/// focal length over the long side, distortion of the lens (x may end before it: the start's own). The shift along the
/// line of sight goes with the focal length, so that changing that keeps the size in the picture.
struct CameraFamily {
    Camera start;
    double longSide = 1;                              ///< of the picture, pixels
    Eigen::Vector3d pivot = Eigen::Vector3d::Zero();  ///< about which the pose turns, gear frame, mm
    Eigen::Vector3d pivotInCamera = Eigen::Vector3d::Zero();

    /// With its pivot, which the start puts before itself.
    static CameraFamily about(const Camera& start, const PictureSize& size, const Eigen::Vector3d& pivot);
    Camera at(const Eigen::VectorXd& x) const;
    /// The start itself, in a vector of `count` numbers; those after the distortion are 0.
    Eigen::VectorXd startAt(Eigen::Index count) const;
};

Eigen::Vector3d turned(const Eigen::Vector3d& point, double angle);  ///< about Z
Eigen::Matrix3d rotationOf(const Eigen::Vector3d& rotationVector);

/// Grids by index(side) of a set of common proportions (its size does not matter to a camera), and of a gear set.
const std::array<FlankGrid, 2>& typicalGrids(Cut cut, Hand hand);
std::array<FlankGrid, 2> gridsOf(const GearSet& gearSet);

/// As projectGrid, for a tooth turned by an angle.
std::vector<PixelPoint> projectGridTurned(const Camera& camera, const FlankGrid& grid, double turn);

/// The grid of one flank projected, row-major from the tip, toe first (as RectifiedFlank::gridPx). Empty when a point
/// lies behind the camera.
std::vector<PixelPoint> projectGrid(const Camera& camera, const FlankGrid& grid, int tooth);

}  // namespace shimsight::flank
