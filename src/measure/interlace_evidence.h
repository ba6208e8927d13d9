#pragma once

namespace guardband::measure {

/// What has been seen so far of how a clip was scanned. Other measurements read it to put fields in the order of time.
class InterlaceEvidence {
public:
    enum class Scan { Unknown, Interlaced, Progressive, Mixed };
    enum class Order { Unknown, TopFirst, BottomFirst };

    virtual ~InterlaceEvidence() = default;
    virtual Scan scan() const = 0;
    virtual Order order() const = 0;
};

}  // namespace guardband::measure
