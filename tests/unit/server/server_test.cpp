// The server from outside: everything through answer(), and the sockets once.
#include <httplib.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <thread>

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
          thread([this] { server.run(); }) {}
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
    const auto part = client.Get("/lesson/three.js", {{"Range", "bytes=10-19"}});
    REQUIRE(part);
    CHECK(part->body.size() == 10);
}

TEST_CASE("a port that is taken is told; the end of the server frees it") {
    shimsight::test::TempDir folder;
    int port = 0;
    {
        const Running first;
        port = first.server.port();
        ServerOptions options;
        options.jobs = folder.path() / "jobs";
        options.port = port;
        CHECK_THROWS_WITH(Server(options), Catch::Contains("cannot be opened"));
    }
    ServerOptions options;
    options.jobs = folder.path() / "jobs";
    options.port = port;
    CHECK_NOTHROW(Server(options));
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
    CHECK(shimsight::server::kMostPathBytes > 100);
    const std::string code = shimsight::qrForTerminal(running.server.pairingAddresses().front());
    // Version 4 of ISO/IEC 18004 (33 dots) holds the 62 bytes with quality L (78 at most); two dots of rim all round.
    CHECK(std::count(code.begin(), code.end(), '\n') == (33 + 4 + 1) / 2);
}
