// Colours of stress and plastic strain, even steps from little to much, on light and dark paper:
// the maps of fejoint.output.pictures. Written by `python -m fejoint.page.colours`.

export const COLOURS = {
  light: {
    stress: "fbfaf7 f9f8f9 f2f1fb e9e7fb e3e1f9 dddaf8 d7d4f7 d1cdf6 ccc7f4 c6c1f3 c0baf2 bab4f1 b4aeef aca7ed a2a1ea 979ae6 8a94e1 7c8ddc 6e87d6 5f80d0 5179c7 4473be 3b6db4 3467aa 2f62a0 2a5c95 28558b 274d81 274679 283e71 29376a 293063 2a2a5d",
    plastic: "fbfaf7 fcf8da fbefad f9e282 f6d76f f3cc61 f1c159 efb756 edae54 eba653 e99d53 e89552 e68c51 e48351 e27b50 e0714f dd684e d85e4d d0564c c64f4a b84a48 a94745 9a4341 8b3f3b 7c3b35 6f372e 613227 552e20 4a2a1b 402716 372411 2f210d 291f09",
  },
  dark: {
    stress: "27323a 27354c 273d62 27487b 274f83 28568c 2a5c95 2e619e 3366a8 386bb1 4070ba 4976c2 557cca 6282d1 6f88d7 7c8edc 8993e1 9499e5 9f9fe9 a8a4ec b0aaee b6b0f0 bcb6f1 c1bbf2 c6c1f3 cbc7f4 d0ccf5 d6d2f7 dbd8f8 e0def9 e6e3fa ebe9fb f0eefc",
    plastic: "27323a 383234 4f3431 6d3831 7f3c36 8b3f3b 97423f a34543 ae4846 ba4b48 c44f4a cd534c d45a4d da614e dd684e e0704f e17750 e37e50 e48551 e68c51 e79252 e99952 eaa053 eba753 edad54 eeb455 f0bc57 f1c45a f3cc61 f6d56c f8de7a fae68a fbec99",
  },
};
