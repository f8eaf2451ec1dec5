#include <atomic>
#include <cstdlib>
#include <thread>
#include "trial_photos.h"
using namespace shimsight;
int main(int, char** v) {
    const auto gears = study::gearsUnderStudy();
    std::atomic<int> next{std::atoi(v[7])};
    const auto work = [&] {
        for (int i = next++; i < std::atoi(v[1]); i = next++)
            study::drawTrialPhotos(gears[static_cast<std::size_t>(i) % gears.size()], i, static_cast<std::uint64_t>(std::atoll(v[2])), std::atoi(v[4]), std::atoi(v[5]), v[6]);
    };
    std::vector<std::thread> t;
    for (int i = 0; i < std::atoi(v[3]); ++i) t.emplace_back(work);
    for (auto& x : t) x.join();
}
