/// What was accepted, by the id that its sender made: written to the disk before it is answered.
#pragma once

#include <filesystem>
#include <mutex>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace shimsight::server {

/// One change. `answer` is empty while it is not done.
struct Request {
    std::string id, kind, job, at;
    std::string body;    ///< JSON as it came
    std::string answer;  ///< JSON; empty: not done yet
};

class Requests {
public:
    /// Throws InputError when `folder` cannot be made. What was done more than a month ago is forgotten.
    explicit Requests(std::filesystem::path folder);

    std::optional<Request> find(std::string_view id) const;
    void write(const Request& request);
    void forget(std::string_view id);
    /// Those without an answer, oldest first.
    std::vector<Request> open() const;

private:
    std::filesystem::path fileOf(std::string_view id) const;
    std::filesystem::path folder_;
};

}  // namespace shimsight::server
