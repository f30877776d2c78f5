//! Reads what `postcard` writes: fields in their order without names.
//!
//! Whether all could be read is asked once, at the end; until then what is not there reads as nothing. So no field has
//! to be dropped again on the way, and the code that reads the outcome is half as long.

use std::fmt::Display;

use serde::de::value::U32Deserializer;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, Error, IntoDeserializer, MapAccess, SeqAccess,
    VariantAccess, Visitor,
};

/// Something cannot be of the type that is asked for.
#[derive(Debug, thiserror::Error)]
#[error("its values do not fit its types")]
pub struct Misfit;

impl Error for Misfit {
    fn custom<T: Display>(_: T) -> Misfit {
        Misfit
    }
}

/// A message's bytes, from the one that is read next.
pub struct Reader<'de> {
    rest: &'de [u8],
    /// Whether something was not there.
    is_short: bool,
}

impl<'de> Reader<'de> {
    pub fn new(bytes: &'de [u8]) -> Reader<'de> {
        Reader {
            rest: bytes,
            is_short: false,
        }
    }

    /// Whether all was there that was asked for.
    pub fn is_whole(&self) -> bool {
        !self.is_short
    }

    #[inline(never)]
    fn bytes(&mut self, count: usize) -> &'de [u8] {
        let Some((taken, rest)) = self.rest.split_at_checked(count) else {
            self.is_short = true;
            self.rest = &[];
            return &[];
        };
        self.rest = rest;
        taken
    }

    fn byte(&mut self) -> u8 {
        self.bytes(1).first().copied().unwrap_or(0)
    }

    /// A number in as many bytes as it needs, seven bits each, the lowest first.
    #[inline(never)]
    fn number(&mut self) -> u64 {
        let mut number = 0;
        for place in 0..10 {
            let byte = self.byte();
            number |= u64::from(byte & 0x7f) << (7 * place);
            if byte < 0x80 {
                return number;
            }
        }
        self.is_short = true;
        0
    }

    /// A number with its sign, which stands in the lowest bit.
    fn signed(&mut self) -> i64 {
        let number = self.number();
        (number >> 1) as i64 ^ -((number & 1) as i64)
    }

    /// How many items follow; none of them takes no byte at all.
    #[inline(never)]
    fn count(&mut self) -> usize {
        let count = self.number();
        if count > self.rest.len() as u64 {
            self.is_short = true;
            self.rest = &[];
            return 0;
        }
        count as usize
    }

    #[inline(never)]
    fn real(&mut self) -> f64 {
        let bytes = self.bytes(8).try_into();
        bytes.map_or(f64::NAN, f64::from_le_bytes)
    }

    #[inline(never)]
    fn text(&mut self) -> String {
        let count = self.count();
        let bytes = self.bytes(count);
        let text = str::from_utf8(bytes);
        self.is_short |= text.is_err();
        text.unwrap_or_default().to_owned()
    }

    /// Whether an optional value is there.
    fn is_there(&mut self) -> bool {
        let tag = self.byte();
        self.is_short |= tag > 1;
        tag == 1
    }
}

macro_rules! numbers {
    ($($method:ident $visit:ident $read:ident $number:ty;)*) => {$(
        fn $method<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
            visitor.$visit(self.$read() as $number)
        }
    )*};
}

impl<'de> Deserializer<'de> for &mut Reader<'de> {
    type Error = Misfit;

    fn is_human_readable(&self) -> bool {
        false
    }

    numbers! {
        deserialize_u8 visit_u8 byte u8;
        deserialize_i8 visit_i8 byte i8;
        deserialize_u16 visit_u16 number u16;
        deserialize_u32 visit_u32 number u32;
        deserialize_u64 visit_u64 number u64;
        deserialize_i16 visit_i16 signed i16;
        deserialize_i32 visit_i32 signed i32;
        deserialize_i64 visit_i64 signed i64;
        deserialize_f64 visit_f64 real f64;
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_bool(self.is_there())
    }

    fn deserialize_f32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        let bytes = self.bytes(4).try_into();
        visitor.visit_f32(bytes.map_or(f32::NAN, f32::from_le_bytes))
    }

    fn deserialize_char<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_string(self.text())
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_string(self.text())
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_string(self.text())
    }

    fn deserialize_bytes<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        self.deserialize_byte_buf(visitor)
    }

    fn deserialize_byte_buf<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        let count = self.count();
        visitor.visit_byte_buf(self.bytes(count).to_vec())
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        match self.is_there() {
            true => visitor.visit_some(self),
            false => visitor.visit_none(),
        }
    }

    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_unit()
    }

    fn deserialize_unit_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_unit()
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        let left = self.count();
        visitor.visit_seq(Items { reader: self, left })
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        let left = self.count();
        visitor.visit_map(Items { reader: self, left })
    }

    fn deserialize_tuple<V: Visitor<'de>>(
        self,
        left: usize,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_seq(Items { reader: self, left })
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        left: usize,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(left, visitor)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(fields.len(), visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_enum(self)
    }

    /// Without names nothing tells what stands there.
    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Misfit> {
        Err(Misfit)
    }

    fn deserialize_identifier<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Misfit> {
        Err(Misfit)
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Misfit> {
        Err(Misfit)
    }
}

struct Items<'a, 'de> {
    reader: &'a mut Reader<'de>,
    left: usize,
}

impl<'de> SeqAccess<'de> for Items<'_, 'de> {
    type Error = Misfit;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Misfit> {
        if self.left == 0 {
            return Ok(None);
        }
        self.left -= 1;
        seed.deserialize(&mut *self.reader).map(Some)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.left)
    }
}

impl<'de> MapAccess<'de> for Items<'_, 'de> {
    type Error = Misfit;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Misfit> {
        self.next_element_seed(seed)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Misfit> {
        seed.deserialize(&mut *self.reader)
    }
}

impl<'de> EnumAccess<'de> for &mut Reader<'de> {
    type Error = Misfit;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), Misfit> {
        let index: U32Deserializer<Misfit> = (self.number() as u32).into_deserializer();
        Ok((seed.deserialize(index)?, self))
    }
}

impl<'de> VariantAccess<'de> for &mut Reader<'de> {
    type Error = Misfit;

    fn unit_variant(self) -> Result<(), Misfit> {
        Ok(())
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Misfit> {
        seed.deserialize(self)
    }

    fn tuple_variant<V: Visitor<'de>>(self, left: usize, visitor: V) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(left, visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(fields.len(), visitor)
    }
}
