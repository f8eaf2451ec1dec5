// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
/// The bench page and its programming interface over HTTP: any phone of the shop reads photos with this computer.
///
/// WHO MAY. The server listens on loopback, or with `lan` on every address. The pairing code of this run, which is part
/// of the pairing address behind "#" and which no browser sends anywhere, gives a device a key of its own. Whoever has
/// the code or such a key may read and write everything, whoever has not gets the empty page alone. They travel in a
/// header that a foreign page cannot set, never in a cookie. Of the keys hashes are kept in the jobs folder, readable
/// by its owner alone, so that a pairing outlives a restart; on the shop's computer itself a device can be sent away
/// and the code renewed.
///
/// NOTHING ACCEPTED IS LOST. Every change bears an id that the sender made. It is written to the disk before it is
/// answered, and the id stays in the entry that it made, so that a retry, a dropped connection, a clock set back or the
/// end of this program neither loses nor doubles it. One server works with a folder. Photos come in pieces and go on
/// where they stopped; those of an accepted trial stay until it is read. stop() finishes what was accepted for up to
/// ten seconds; the rest lies on the disk and is read at the next start.
///
/// BOUNDS. Header blocks, bodies (kept only of who has the token, with their length before them and nothing packed),
/// connections of each address and the time that each takes, uploads and pictures, what the folder takes of the disk,
/// requests a second for each address, readings at a time, and the queue before them are bounded (pictures:
/// DecodeLimits); who does not fit is told in a sentence and when to come again. What strangers can do is tried in
/// tests/attack.
///
/// Everything is done by the functions of job.h, measure.h, lesson.h and training.h that the command line uses. The
/// interface is described in src/server/openapi.json.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "shimsight/core.h"
#include "shimsight/settings.h"
#include "shimsight/training.h"

namespace shimsight {

/// PEM files.
struct TlsFiles {
    std::filesystem::path certificate, key;
};

/// What encrypts the traffic.
enum class Encryption {
    None,
    Files,  ///< ServerOptions::tls
    Own     ///< a certificate that the server makes for itself and keeps in its folder
};

struct ServerOptions {
    std::filesystem::path jobs;                   ///< folder of the job folders; made when missing
    std::vector<std::filesystem::path> gearSets;  ///< folders with gear-set files, besides gear-sets/ in `jobs`
    bool lan = false;                             ///< listen on all addresses, not on loopback alone
    int port = 0;                                 ///< 0: any free one
    Encryption encryption = Encryption::None;
    TlsFiles tls;  ///< with Encryption::Files
    /// The program that reads trials apart (workOnTrial); empty: they are read in this process.
    std::filesystem::path worker;
    int workers = 0;         ///< trials read at the same time; 0: half of the processors, at least 1
    std::size_t queue = 24;  ///< trials that may wait
    /// Of one address, over time and at once. A page takes some fifty files: these are two and twenty pages.
    double requestsPerSecond = 120, requestBurst = 1200;
    std::int64_t mostUploadBytes = 40'000'000;  ///< one photo
    /// What the folder of jobs may take of the disk, in bytes; a photo that would pass it is not taken. Three years of
    /// a shop with a thousand jobs a year of 64 MB (four trials of four photos of four).
    std::int64_t space = 200'000'000'000;
    std::filesystem::path scores;     ///< folder of the drill's score sheets; empty: none are kept
    std::optional<ExamOptions> exam;  ///< needs `scores`
    /// The shop's: what a device begins with on which nobody chose units or gave a name, and what the sheet bears.
    Settings settings;
};

struct PairedDevice {
    std::string id, name, pairedAt, seenAt;
};
/// The devices that are paired with the folder of jobs; a running server may work with it meanwhile.
std::vector<PairedDevice> pairedDevices(const std::filesystem::path& jobs);
/// Sends a paired device away; false: there is none of this id.
bool sendAway(const std::filesystem::path& jobs, std::string_view device);

class Server {
public:
    /// Opens the folders, takes up what a former run had accepted and not finished, and binds the port. Throws
    /// InputError.
    explicit Server(ServerOptions options);
    ~Server();
    Server(const Server&) = delete;
    Server& operator=(const Server&) = delete;

    int port() const;
    std::string token() const;  ///< the pairing code: 32 hexadecimal digits, new for each run
    /// Addresses to open in a browser, the token behind "#", and behind "-" the certificate's fingerprint where the
    /// traffic is encrypted. With `lan` one for each address of this computer, else loopback.
    std::vector<std::string> pairingAddresses() const;
    /// SHA-256 of the certificate as browsers show it; empty where nothing is encrypted.
    std::string fingerprint() const;

    void run();  ///< returns after stop(); answers are given from the start on
    /// From any thread: takes nothing new; run() returns when what was accepted is finished, or after ten seconds when
    /// the reading in hand is.
    void stop();

private:
    struct State;
    std::unique_ptr<State> state_;
};

/// What `ServerOptions::worker` runs: reads one trial, named on the standard input, records it, and writes what came of
/// it to the standard output; with bounds of memory and processor time, without network. The exit status.
int workOnTrial();

/// A QR code of `text` for a terminal, two rows of dots to a line, dark on light whatever the terminal's colours.
std::string qrForTerminal(std::string_view text);

}  // namespace shimsight
