// Colours of stress and plastic strain, even steps from little to much, on light and dark paper:
// the maps of fejoint.output.pictures. Written by `python -m fejoint.page.colours`.

export const COLOURS = {
  light: {
    stress: "fbfaf7 f9f8f9 f2f1fb e9e7fb e3e1f9 dddaf8 d7d4f7 d1cdf6 ccc7f4 c6c1f3 c0baf2 bab4f1 b4aeef aca7ed a2a1ea 979ae6 8a94e1 7c8ddc 6e87d6 5f80d0 5179c7 4473be 3b6db4 3467aa 2f62a0 2a5c95 28558b 274d81 274679 283e71 29376a 293063 2a2a5d",
    plastic: "fbfaf7 fcf8da fbefad f9e282 f6d76f f3cc61 f1c159 efb756 edae54 eba653 e99d53 e89552 e68c51 e48351 e27b50 e0714f dd684e d85e4d d0564c c64f4a b84a48 a94745 9a4341 8b3f3b 7c3b35 6f372e 613227 552e20 4a2a1b 402716 372411 2f210d 291f09",
  },
  dark: {
    stress: "12181c 1c1d33 25274f 293265 28396c 284073 27477b 274f83 28568d 2b5d97 3063a2 3569ac 3d6eb6 4774c0 547bc9 6282d1 7188d8 7f8fdd 8d95e2 999be7 a5a2eb aea9ee b5aff0 bbb5f1 c1bcf2 c7c2f3 cdc8f5 d3cff6 d9d5f7 dedcf8 e4e2fa ebe9fb f0eefc",
    plastic: "12181c 191a13 241e0e 31220e 392412 422817 4c2b1c 582f22 643328 71372f 803c36 8e403c 9d4442 ad4746 bb4b49 c8504b d2584c d9604e de6a4f e0734f e37c50 e48551 e68e51 e89652 ea9f53 eba753 edb054 efb956 f1c35a f4ce63 f7d972 f9e486 fbec99",
  },
};
