//! The stable codes of diagnostics. A code is never reused for something else.

use super::Severity;

macro_rules! codes {
    ($($variant:ident $severity:ident $id:literal $title:literal;)*) => {
        /// What a diagnostic is about.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
        pub enum Code {
            $(#[doc = $title] $variant,)*
        }

        impl Code {
            /// Every code, in the order of their ids.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The stable id, such as `RW0101`.
            #[must_use]
            pub const fn id(self) -> &'static str {
                match self { $(Self::$variant => $id),* }
            }

            /// What it is about, in one line.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$variant => $title),* }
            }

            /// What it means, with a pack that is refused for it and what stands there in one that is accepted. The
            /// examples run as a test, which also writes them (`tests/codes`).
            #[must_use]
            pub const fn page(self) -> &'static str {
                match self { $(Self::$variant => include_str!(concat!("pages/", $id, ".txt"))),* }
            }

            /// The code with this id, in small or capital letters.
            #[must_use]
            pub fn of_id(id: &str) -> Option<Self> {
                let mut all = Self::ALL.iter();
                all.find(|code| code.id().eq_ignore_ascii_case(id)).copied()
            }

            /// Whether it is found by proof (`crate::prove`, and for [`Self::CourseStops`] by playing a course) and not
            /// by the checker.
            #[must_use]
            pub fn is_proved(self) -> bool {
                self.id().starts_with("RW06")
            }

            /// Whether a pack with it may not be used (error) or should be looked at (warning).
            #[must_use]
            pub const fn severity(self) -> Severity {
                match self { $(Self::$variant => Severity::$severity),* }
            }
        }
    };
}

codes! {
    // Files.
    FileMissing Error "RW0001" "a file that every pack has is missing";
    FileUnknown Warning "RW0002" "a file that is not part of a pack";
    FileTooLarge Error "RW0003" "a file, or the pack, is too large";
    FileTwice Error "RW0004" "two files have the same name";
    Syntax Error "RW0005" "the file is not valid TOML";
    // Keys and values.
    UnknownKey Error "RW0101" "a key that is not known here";
    WrongType Error "RW0102" "a value of the wrong type";
    MissingKey Error "RW0103" "a key that must be given is missing";
    UnknownWord Error "RW0104" "a word that is not one of the fixed ones";
    NotExact Error "RW0105" "a number that thousandths do not hold exactly";
    OutOfBounds Error "RW0106" "a number outside what is allowed here";
    Empty Error "RW0107" "nothing where something must stand";
    Exclusive Error "RW0108" "keys that exclude each other";
    BadName Error "RW0109" "a name that cannot be used";
    LanguageVersion Error "RW0110" "a version of the rule language that is not known";
    TooMany Error "RW0111" "more than the bound allows";
    Twice Error "RW0112" "a name that is already taken";
    UnknownUnit Error "RW0113" "a unit that is not a known UCUM code";
    // Names and texts.
    UnknownSource Error "RW0201" "a source that the pack does not list";
    UnknownName Error "RW0202" "a name that nothing in the pack declares";
    NoGrounds Error "RW0203" "a number without a source or a judgement";
    TextMissing Error "RW0204" "a text that a declared language lacks";
    TextUnused Warning "RW0205" "a text that nothing uses";
    Language Error "RW0206" "a text file and the declared languages disagree";
    ExerciseUnused Warning "RW0207" "an exercise that no phase lists";
    SourceUnused Warning "RW0208" "a source that nothing names";
    // Sentences.
    Subject Error "RW0301" "a sentence that names no declared measure or exercise";
    Relation Error "RW0302" "no relation after the subject";
    Number Error "RW0303" "no number where one must stand";
    SentenceUnit Error "RW0304" "a unit that is not the measure's";
    Amount Error "RW0305" "an amount outside what the measure can be";
    Choice Error "RW0306" "not a choice of the measure";
    Window Error "RW0307" "words that are no window";
    Reference Error "RW0308" "no reference after a change";
    Count Error "RW0309" "a count that cannot be";
    RelationKind Error "RW0310" "a relation that does not go with the measure";
    Quantifier Error "RW0311" "a quantifier that does not go with the measure";
    WindowKind Error "RW0312" "a window that does not go with the measure";
    Statistic Error "RW0313" "a statistic that does not go with the measure";
    Percent Error "RW0314" "a percentage that does not go with the measure";
    OtherSide Error "RW0315" "another side that is not reported";
    RelativeKind Error "RW0316" "a measure that cannot be compared with";
    ChangeWindow Error "RW0317" "a window that does not go with a change";
    NoDirection Error "RW0318" "no worst of several exercises";
    Reached Error "RW0319" "a place that is not on the ladder";
    LimitForm Error "RW0320" "a limit that is not about one session";
    // Form rules: what keeps caution monotone and silence from progressing.
    UpwardPolarity Error "RW0401" "an upward rule that is met by something worse";
    CautiousPolarity Error "RW0402" "a cautious rule that is met by something better";
    BetweenDirected Error "RW0403" "`between` on a measure with a direction";
    UpwardBound Error "RW0404" "a reference in an upward rule without an absolute bound";
    CautiousBound Error "RW0405" "a reference in a cautious rule without an absolute alternative";
    LimitBound Warning "RW0406" "a relative limit without an absolute one beside it";
    ByTimeAlone Warning "RW0407" "a cautious rule that time alone can make met";
    EmptyCriterion Error "RW0408" "an empty list of sentences";
    NoEnter Error "RW0409" "a phase that nothing enters";
    NoDischarge Error "RW0410" "a last phase that nothing leaves";
    RuleMisplaced Error "RW0411" "a rule in a phase where it is never judged";
    Cycle Error "RW0412" "a measure defined by itself";
    LayOffOrder Error "RW0413" "a lay-off table that is not in order";
    Parts Error "RW0414" "values that cannot be worked into one";
    NoVolume Error "RW0415" "a volume of an exercise that has none";
    // Lines and ladders.
    RowEmpty Error "RW0501" "a row of a ladder without values";
    RowOrder Error "RW0502" "values of a row that are not gentlest first";
    RowValueTwice Error "RW0503" "a value or a variable twice on a ladder";
    RowValueKind Error "RW0504" "a value that does not fit its variable";
    OffLadder Error "RW0505" "a dose that is not on the ladder";
    GivesWay Error "RW0506" "what gives way is not on the ladder";
    LadderTooLong Error "RW0507" "a ladder with too many rungs";
    ReturnAt Error "RW0508" "a return below the ladder";
    LoadSequence Error "RW0509" "a sequence of loads that cannot be";
    BandLoad Error "RW0510" "loads that do not go with a band";
    BandArc Error "RW0511" "angles of a motion that do not go together";
    BandStep Error "RW0512" "a step of load above the most allowed";
    BandHeight Error "RW0513" "no standing height for work against a band";
    // What is proved of a sound pack: an error here keeps it from coming into force, and not from loading.
    AlwaysMet Error "RW0601" "a sentence that is always met";
    NeverMet Error "RW0602" "a sentence that is never met";
    NeverTogether Error "RW0603" "sentences that are never met together";
    EnterIsHeld Error "RW0604" "a phase that holds back whoever may enter it";
    EnterNearHeld Warning "RW0605" "a phase that may hold back at values that enter it";
    NothingGives Error "RW0606" "an exercise of which nothing can give way";
    NoLimit Error "RW0607" "an exercise without a limit";
    NotFresh Error "RW0608" "a window that is longer than values count";
    LimitHeld Warning "RW0609" "a limit that allows what holds back";
    TotalFloor Error "RW0610" "a total that is small because little was told";
    OwnSessions Error "RW0611" "an exercise that comes back only by being done";
    NeverHappened Warning "RW0612" "an upward rule that is met where an event never was";
    CourseStops Error "RW0613" "a best course that stops";
}
