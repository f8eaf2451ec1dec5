// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// What the live tooth uses of three.js.
export {
    BufferAttribute,
    BufferGeometry,
    CanvasTexture,
    DirectionalLight,
    DoubleSide,
    Group,
    HemisphereLight,
    InstancedMesh,
    Matrix4,
    Mesh,
    MeshStandardMaterial,
    PerspectiveCamera,
    SRGBColorSpace,
    Scene,
    WebGLRenderer,
} from "three";
