// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// What a shop always wants the same: units, who works, its name on the build sheet. Module `records`.
///
/// One small file in a standard place, written by hand: `shimsight/settings.json` in $XDG_CONFIG_HOME, else in
/// ~/.config (XDG Base Directory Specification 0.8). models/schemas/settings-1.schema.json is its form.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "shimsight/units.h"

namespace shimsight {

struct Settings {
    Units units = Units::Both;
    std::string by;    ///< who enters things; empty: not given
    std::string shop;  ///< name of the shop; empty: not given
};

/// Strict: a field of another type, a word that is none, or a name that looks misspelled throws InputError.
Settings parseSettings(std::string_view text, std::string_view fileName);
/// Where the file is looked for; empty where the system names no such place. Reads the environment.
std::filesystem::path settingsPlace();
/// The settings of this user; the plain ones where there is no file. Throws InputError for one that cannot be used.
Settings readSettings();

}  // namespace shimsight
