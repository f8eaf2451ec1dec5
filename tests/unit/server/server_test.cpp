// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
// The server from outside: everything through answer(), and the sockets once.
#include <arpa/inet.h>
#include <httplib.h>
#include <netinet/in.h>
#include <signal.h>
#include <sys/socket.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <thread>

#undef _res  // a macro of the resolver's header; Eigen has arguments of this name

#include "server/service.h"
#include "support/temp_dir.h"

using nlohmann::json;
using shimsight::Server;
using shimsight::ServerOptions;

namespace {

std::string tokenHeader() { return "X-Shimsight-Token"; }

/// A server in a thread of its own.
struct Running {
    shimsight::test::TempDir folder;
    Server server;
    std::thread thread;
    explicit Running(double requestsPerSecond = 1000)
        : server([&] {
              ServerOptions options;
              options.jobs = folder.path() / "jobs";
              options.requestsPerSecond = requestsPerSecond;
              return options;
          }()),
          thread([this] { server.run(); }) {
        // The client of these tests writes to connections that are closed meanwhile.
        signal(SIGPIPE, SIG_IGN);
    }
    ~Running() {
        server.stop();
        thread.join();
    }
    Running(const Running&) = delete;
    Running& operator=(const Running&) = delete;
    httplib::Client client() const {
        httplib::Client one("127.0.0.1", server.port());
        one.set_read_timeout(20);
        return one;
    }
};

}  // namespace

TEST_CASE("the page comes with strict headers and without the token") {
    const Running running;
    auto client = running.client();
    const auto page = client.Get("/");
    REQUIRE(page);
    CHECK(page->status == 200);
    CHECK(page->get_header_value("Content-Type") == "text/html; charset=utf-8");
    const std::string policy = page->get_header_value("Content-Security-Policy");
    CHECK(policy.find("default-src 'none'") != std::string::npos);
    CHECK(policy.find("unsafe") == std::string::npos);
    CHECK(policy.find("http") == std::string::npos);
    CHECK(page->get_header_value("X-Content-Type-Options") == "nosniff");
    CHECK(page->get_header_value("Referrer-Policy") == "no-referrer");
    CHECK(page->body.find("<script>") == std::string::npos);
    CHECK(page->body.find(running.server.token()) == std::string::npos);
    for (const char* path : {"/app.js", "/page.css", "/sketch.css", "/icon.svg"}) {
        const auto file = client.Get(path);
        REQUIRE(file);
        CHECK(file->status == 200);
    }
}

TEST_CASE("without the token nothing is readable or writable over the network") {
    const Running running;
    auto client = running.client();
    for (const char* path : {"/api/about", "/api/jobs", "/api/gear-sets", "/api/openapi.json"}) {
        const auto answer = client.Get(path);
        REQUIRE(answer);
        CHECK(answer->status == 401);
    }
    const auto write = client.Post("/api/jobs", "{}", "application/json");
    REQUIRE(write);
    CHECK(write->status == 401);
    const auto right = client.Get("/api/about", {{tokenHeader(), running.server.token()}});
    REQUIRE(right);
    CHECK(right->status == 200);
}

TEST_CASE("what the library refuses is a plain sentence too") {
    const Running running;
    auto client = running.client();
    const httplib::Headers token{{tokenHeader(), running.server.token()}};
    const std::string id(32, 'a');
    const auto large = client.Put(("/api/uploads/" + id + "?offset=0&size=3000000").c_str(), token,
                                  std::string(2'000'000, 'x'), "application/octet-stream");
    REQUIRE(large);
    CHECK(large->status == 413);
    CHECK(json::parse(large->body).at("error").get<std::string>().find("too large") != std::string::npos);
    const auto longPath = client.Get(("/" + std::string(5000, 'a')).c_str());
    REQUIRE(longPath);
    CHECK(longPath->status == 414);
    CHECK_FALSE(json::parse(longPath->body).at("error").get<std::string>().empty());
}

namespace {

/// What the server says to these bytes; "" where it only closes.
std::string answerTo(const Running& running, const std::vector<std::string>& pieces, int pauseMs = 0) {
    const int socket = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(static_cast<std::uint16_t>(running.server.port()));
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    const timeval patience{20, 0};
    setsockopt(socket, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    REQUIRE(::connect(socket, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
    for (const std::string& piece : pieces) {
        if (::send(socket, piece.data(), piece.size(), MSG_NOSIGNAL) < 0) break;
        std::this_thread::sleep_for(std::chrono::milliseconds(pauseMs));
    }
    std::string answer(4096, '\0');
    const ssize_t got = ::recv(socket, answer.data(), answer.size(), 0);
    ::close(socket);
    answer.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
    return answer;
}

std::string statusOf(const std::string& answer) { return answer.substr(0, std::min<std::size_t>(12, answer.size())); }

}  // namespace

TEST_CASE("who is not paired is refused by the header, before a body is taken") {
    const Running running;
    const std::string host = "Host: 127.0.0.1\r\n", token = tokenHeader() + ": " + running.server.token() + "\r\n";
    // A long body is not taken: its answer comes before the first byte of it. One that a page may have sent is taken
    // and thrown away first, since whoever is cut off does not see why.
    CHECK(statusOf(answerTo(running, {"POST /api/jobs HTTP/1.1\r\n" + host + "Content-Length: 1000000000\r\n\r\n"})) ==
          "HTTP/1.1 401");
    CHECK(statusOf(answerTo(running, {"POST /api/jobs HTTP/1.1\r\nHost: a.example\r\nContent-Length: 2\r\n\r\n{}"})) ==
          "HTTP/1.1 421");
    CHECK(statusOf(answerTo(running, {"POST / HTTP/1.1\r\n" + host + "Content-Length: 1000000000\r\n\r\n"})) ==
          "HTTP/1.1 405");
    CHECK(statusOf(answerTo(running, {"GET / HTTP/1.1\r\n" + host + "Content-Length: 1\r\n\r\nx"})) == "HTTP/1.1 400");
    // Whoever is paired sends no more than was said, nothing packed, nothing in chunks.
    CHECK(statusOf(answerTo(running, {"POST /api/jobs HTTP/1.1\r\n" + host + token +
                                      "Content-Length: 999999999999\r\n\r\n"})) == "HTTP/1.1 413");
    CHECK(statusOf(answerTo(running, {"POST /api/jobs HTTP/1.1\r\n" + host + token +
                                      "Content-Encoding: gzip\r\nContent-Length: 1\r\n\r\nx"})) == "HTTP/1.1 415");
    CHECK(statusOf(answerTo(running, {"POST /api/jobs HTTP/1.1\r\n" + host + token +
                                      "Transfer-Encoding: chunked\r\n\r\n"})) == "HTTP/1.1 411");
}

TEST_CASE("header blocks have a bound") {
    const Running running;
    const std::string much(100'000, 'a');
    CHECK(statusOf(answerTo(running, {"GET /" + much + " HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"})) == "HTTP/1.1 414");
    CHECK(statusOf(answerTo(running, {"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + much + "\r\n\r\n"})) ==
          "HTTP/1.1 431");
    std::string many = "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n";
    for (int i = 0; i < 40'000; ++i) many += "X: a\r\n";
    CHECK(statusOf(answerTo(running, {many + "\r\n"})) == "HTTP/1.1 431");
    // A usual one, sent slowly, comes through.
    CHECK(statusOf(answerTo(running, {"GET / HT", "TP/1.1\r\nHo", "st: 127.0.0.1\r\n", "\r\n"}, 100)) ==
          "HTTP/1.1 200");
    CHECK(statusOf(answerTo(running, {"GET /api/jobs%00x HTTP/1.1\r\nHost: 127.0.0.1\r\n" + tokenHeader() + ": " +
                                      running.server.token() + "\r\n\r\n"})) == "HTTP/1.1 404");
}

TEST_CASE("the server stops though a client drips") {
    auto running = std::make_unique<Running>();
    std::thread client([&] {
        (void)answerTo(*running, {"POST /api/jobs HTTP/1.1\r\nHost: 127.0.0.1\r\n" + tokenHeader() + ": " +
                                      running->server.token() + "\r\nContent-Length: 1000\r\n\r\n",
                                  "a"});
    });
    std::this_thread::sleep_for(std::chrono::milliseconds(200));
    const auto start = std::chrono::steady_clock::now();
    running->server.stop();
    running->thread.join();
    // At once, and surely before the deadline for what was accepted.
    CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(10));
    client.join();
    running->thread = std::thread([] {});
}

TEST_CASE("large answers come whole, and without waiting for a packer") {
    const Running running;
    auto client = running.client();
    for (const char* wanted : {"br", "gzip", "identity"}) {
        const auto script = client.Get("/lesson/three.js", {{"Accept-Encoding", wanted}});
        REQUIRE(script);
        CHECK(script->status == 200);
        CHECK(script->body.size() > 500'000);
        CHECK_FALSE(script->has_header("Content-Encoding"));
        CHECK(script->get_header_value("Content-Type") == "text/javascript; charset=utf-8");
        CHECK(script->get_header_value("Content-Security-Policy").find("unsafe") == std::string::npos);
    }
    // Parts are not made: many of them would make a large answer of a small request.
    std::string ranges = "bytes=0-";
    for (int i = 0; i < 500; ++i) ranges += ",0-";
    const auto whole = client.Get("/page.css");
    const auto part = client.Get("/page.css", {{"Range", ranges}});
    REQUIRE((whole && part));
    CHECK(part->status == 200);
    CHECK(part->body == whole->body);
}

TEST_CASE("a port that is taken is told; the end of the server frees it") {
    shimsight::test::TempDir folder;
    int port = 0;
    std::string token;
    {
        const Running first;
        port = first.server.port();
        token = first.server.token();
        ServerOptions options;
        options.jobs = folder.path() / "jobs";
        options.port = port;
        CHECK_THROWS_WITH(Server(options), Catch::Contains("cannot be opened"));
    }
    // Free again, unless another program took it meanwhile, another server of ours maybe: this one answers no more.
    httplib::Client late("127.0.0.1", port);
    const auto answer = late.Get("/api/about", {{tokenHeader(), token}});
    CHECK((!answer || answer->status != 200));
}

TEST_CASE("many connections at once are all answered") {
    const Running running;
    std::atomic<int> good{0};
    std::vector<std::thread> phones;
    for (int i = 0; i < 50; ++i)
        phones.emplace_back([&] {
            auto client = running.client();
            const auto answer = client.Get("/api/jobs", {{tokenHeader(), running.server.token()}});
            if (answer && answer->status == 200) ++good;
        });
    for (std::thread& phone : phones) phone.join();
    CHECK(good == 50);
}

TEST_CASE("the pairing address and its code") {
    const Running running;
    REQUIRE(running.server.pairingAddresses().size() == 1);
    CHECK(running.server.pairingAddresses().front() ==
          "http://127.0.0.1:" + std::to_string(running.server.port()) + "/#" + running.server.token());
    CHECK(shimsight::server::kMaxPathBytes > 100);
    const std::string code = shimsight::qrForTerminal(running.server.pairingAddresses().front());
    // Version 4 of ISO/IEC 18004 (33 dots) holds the 62 bytes with quality L (78 at most); two dots of rim all round.
    CHECK(std::count(code.begin(), code.end(), '\n') == (33 + 4 + 1) / 2);
}
