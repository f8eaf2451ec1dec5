// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The certificate that the server makes for itself, so that the traffic can be encrypted without any preparation.
/// Nobody vouches for it: a person compares its fingerprint.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "shimsight/server.h"

namespace shimsight::server {

/// The certificate kept in `folder`, made when there is none, or when that has run out or is not for all of `hosts`
/// (names and IPv4 addresses). Its key can be read by its owner alone. Self-signed, ECDSA on P-256, for this server and
/// not for signing others, valid kCertificateDays. Throws InputError.
TlsFiles ownCertificate(const std::filesystem::path& folder, const std::vector<std::string>& hosts);
/// Browsers take no certificate of a server for longer (CA/Browser Forum Baseline Requirements 6.3.2: 398 days).
inline constexpr int kCertificateDays = 397;

/// SHA-256 of the first certificate of a PEM text in DER, 64 hexadecimal digits; empty: it holds none.
std::string fingerprintOf(const std::string& pem);

/// As browsers show it: "AB:CD:..."
std::string fingerprintForEyes(const std::string& digits);

}  // namespace shimsight::server
