#include "media/libav.h"

#include <dlfcn.h>
#include <fmt/format.h>

#include <array>

#include "media/damage.h"
#include "quantity/errors.h"

namespace guardband::media {
namespace {

/// No single allocation of FFmpeg's may be larger: a hostile header must not take the machine's memory. The largest
/// picture that we read takes 128 MiB a plane; the index of a hundred hours of frames some 400 MiB.
constexpr std::size_t largest_allocation_bytes = std::size_t{1} << 30;

[[noreturn]] void not_installed(const std::string& library) {
    throw quantity::InputError(
        library, "FFmpeg's libraries can't be loaded",
        "install FFmpeg of the version that guardband was built with (on Debian: apt-get install ffmpeg)");
}

class Library {
public:
    Library(const char* name, int major) : soname_(fmt::format("lib{}.so.{}", name, major)) {
        handle_ = dlopen(soname_.c_str(), RTLD_NOW | RTLD_LOCAL);  // stays loaded: frames may outlive every reader
        if (handle_ == nullptr) not_installed(soname_);
    }

    template <typename Function>
    void find(const char* name, Function& function) const {
        function = reinterpret_cast<Function>(dlsym(handle_, name));
        if (function == nullptr) not_installed(soname_ + " has no " + name);
    }

private:
    std::string soname_;
    void* handle_ = nullptr;
};

Libav load() {
    const Library util("avutil", LIBAVUTIL_VERSION_MAJOR);
    const Library codec("avcodec", LIBAVCODEC_VERSION_MAJOR);
    const Library format("avformat", LIBAVFORMAT_VERSION_MAJOR);
    const Library scale("swscale", LIBSWSCALE_VERSION_MAJOR);
    Libav table;
#define GUARDBAND_FROM_UTIL(name) util.find(#name, table.name);
#define GUARDBAND_FROM_CODEC(name) codec.find(#name, table.name);
#define GUARDBAND_FROM_FORMAT(name) format.find(#name, table.name);
#define GUARDBAND_FROM_SCALE(name) scale.find(#name, table.name);
    GUARDBAND_LIBAVUTIL(GUARDBAND_FROM_UTIL)
    GUARDBAND_LIBAVCODEC(GUARDBAND_FROM_CODEC)
    GUARDBAND_LIBAVFORMAT(GUARDBAND_FROM_FORMAT)
    GUARDBAND_LIBSWSCALE(GUARDBAND_FROM_SCALE)
    table.av_max_alloc(largest_allocation_bytes);
    return table;
}

}  // namespace

const Libav& libav() {
    static const Libav table = [] {
        const Libav loaded = load();
        listen_for_damage(loaded);
        return loaded;
    }();
    return table;
}

std::string av_error_text(int code) {
    std::array<char, AV_ERROR_MAX_STRING_SIZE> text{};
    libav().av_strerror(code, text.data(), text.size());
    return text.data();
}

}  // namespace guardband::media
